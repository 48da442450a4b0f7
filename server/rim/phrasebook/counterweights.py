"""Words of the counterweights on their bar."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_NOT_ALL = "There are too many ways to hang them to look at all of them."
_SOURCE = (
    "Statics: sum of mass x distance = 0 about the axis. A bar is taken to be an even rod. "
    f"Hold the tube whenever a clutch is loosened: {COMMON_PRACTICE}"
)

WORDS = {
    "bar.balances": "The weights at hand balance the load.{complete?| " + _NOT_ALL + " Fewer may do.}",
    "bar.none": "No counterweight is in the rig.",
    "bar.short": "All weights that fit, at the bar's end, do not balance the load.",
    "bar.over": "The lightest weight is too much even next to the axis.",
    "bar.not_all": "Whether the weights at hand balance the load is not known. " + _NOT_ALL,
    "bar.between": "One choice of weights is too little and the next too much.",
    "bar.outweighs": "{riders?The bar and what rides on it outweigh|The bar alone outweighs} the load: no weight is needed, and the bar is too heavy.",
    "bar.narrow": "{weight} is left out: its bore is {narrow} narrower than the bar.",
    "bar.loose": "A bore a good deal wider than the bar may not hold and slide off; use a sleeve made for it: {names}.",
    "bar.more": "Not counted: {names} on the bar; with it the weights sit nearer to the axis: enter where it sits, from the polar axis along the bar.",
    "bar.fits": "Taken to slide on the bar, and not known yet: enter {names}.",
    "bar.leave_out": "Leave some of them out of the rig.",
    "bar.hung": "{weight} at {at}",
    "bar.hang": "{hung} from the polar axis ({hung#its middle) balances|their middles) balance} the load, whose centre lies {arm} from it.{complete?| "
    + _NOT_ALL
    + " Fewer may do.}",
    "bar.missing": "No counterweight at hand balances the load: {short} is missing at the bar's end.",
    "bar.too_much": "No counterweight at hand balances the load: the lightest is too much even next to the axis.",
    "bar.owned_would": "The weights beside the rig do not balance the load; with {owned} of your shelf they would.",
    "bar.swings": "An axis that does not balance swings as soon as a clutch is loosened: leave the tube off until it does.",
    "bar.add": "{full?The bar is full: put a weight that is heavier by more than {short} in another's place|Add a weight of more than {short}}: that much would do at {end} from the axis, and a weight's middle sits nearer.",
    "bar.another": "Get a weight of another mass, between those that are too little and too much.",
    "bar.lengthen": "Or lengthen the bar by {longer}{sure?| or less} for the weights at hand, if its maker allows it.",
    "bar.own": "You own {owned}: put {owned#it|them} beside the rig.",
    "bar.single": (
        "Get a weight of {most} at most{thick?, taken to be as thick as the thinnest at hand,| (its thickness not counted)} and {least} at least: "
        "by itself {middle} balances the load with its middle at {place} from the axis, a heavier one nearer, a lighter one farther out."
    ),
    "bar.same_rod": "a bar of the same rod, {shorter} long at most",
    "bar.lighter": "one of this length and {bar} at most",
    "bar.or": "{one}{other? or {other}}",
    "bar.use_by_itself": "Use {words}: at that it balances the load by itself.",
    "bar.use_other": "{first?Use|Or use} {words}, if its maker allows it: the lightest weight next to the axis then balances the load.",
    "bar.height_of": "height of {name} above the saddle",
    "bar.rider": "place of {name} on the bar",
    "bar.rider_mass": "mass of {name}",
    "bar.taken_to_slide": "not known: taken to slide on",
}
TITLES = {
    "balance.bar": "Counterweights",
    "balance.bar_loose": "Counterweights",
    "balance.bar_more": "Counterweights",
    "balance.bar_fit_unknown": "Counterweights",
    "balance.bar_unknown": "Counterweights",
    "balance.no_weight": "Counterweights",
}
WORKINGS = {
    "balance.bar_unknown": Working(source=_SOURCE),
    "bar": Working(
        "load x its distance from the polar axis = bar x its middle + what rides on it x its place + sum of weights x their places; one weight alone = what is left / its place",
        _SOURCE,
    ),
}
