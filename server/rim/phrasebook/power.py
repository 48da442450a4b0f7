"""Words of the night's energy: what each device takes, what the battery gives, what the leads lose."""

from __future__ import annotations

from server.mechanics.cables import DENSITY_A_MM2
from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_HOLDS = "a source of a higher voltage, or a converter that holds its voltage"

WORDS = {
    "quantity": "{value}",
    "draw.on": "on all night",
    "draw.moves": "as if it moved all night",
    "draw.slewing": "as if it slewed all night",
    "draw.uncooled": "without its cooling",
    "draw.full_cooling": "at full cooling all night",
    "draw.cooled": "{short?it is asked to cool {asked} below the air and can do {most}: it then runs at full current all night and stays {short} warmer. Ask for {most} or less|between idle and full by the cooling asked}",
    "draw.runs_at": "runs at {usual?{usual}|the source's voltage}",
    "draw.with_port": "with {names} on its port",
    "feed.converter": "through the converter",
    "feed.port": "by the port of {host}",
    "feed.port_holds": "{fed}, which is taken to hold its voltage",
    "feed.converter_holds": "the converter is taken to hold its voltage",
    "feed.converter_unknown": "how its converter holds its voltage is not known",
    "feed.end_unknown": "the voltage at the end of the discharge is not known",
    "feed.battery": "{part} under load, {share} of it drawn; a cold or old one sags more",
    "feed.none_like": "no battery of a like voltage feeds it straight",
    "power.mean": "What is known takes {watts} on the mean{lasts?: {batteries} lasts {bound?at most }{lasts} hours at that|}.",
    "power.any_night": "How long the night is nobody has said: one of {short} to {long} hours takes {bound?at least }{least} to {most}.",
    "night": "{hours} hours {by}",
    "night.typed": "as you say",
    "night.of": "from sunset to sunrise on {date}{greenwich?, at Greenwich's longitude: it may be some minutes off}",
    "power.source": "{several?{count} x }{part}",
    "power.gives": "{count} x {charge} x {volts}, {share} of it used{cold?, {cold} of that left in the cold}{drain?, {drain} for a drain faster than 20 hours}: {energy}",
    "power.given": "{parts;}; at {at}{warm?, as nobody gave the lowest temperature}",
    "power.no_source": "What feeds the rig is not known yet: add a battery or a supply, beside the train.",
    "power.night": "{mains?It|The night} takes {least?at least }{need} over {hours} hours.",
    "power.mains": "{mains} feeds the rig: the night is not limited by a battery.",
    "power.peaks": "All devices at their peaks take {least?at least }{peak} together, at {at}: compare that with {mains?the most that the supply gives|the battery's own fuse and its most current}, which is not in the catalogue.",
    "power.mean_of": "mean of {name}",
    "power.takes_none": "no current given: taken to draw none",
    "power.converter": "{share?{share}, which counts for {converted?{converted}|nothing: all is fed straight}|none: nothing is lost}",
    "power.energy_of": "energy of {batteries}",
    "power.unknown": "Whether {batteries} lasts the night is not known yet.",
    "power.takes": "The night takes {bound?at least }{need} over {hours} hours; {batteries} gives {gives}.",
    "power.runs_out": "It is empty after {bound?at most }{lasts} hours.",
    "power.bring": "Bring {short} more{more? ({more} more of the same kind)}, heat less, or cool the camera less.",
    "power.leaves": "That leaves {bound?at most }{left}{little?: an old or colder battery ends before dawn}.",
    "power.second": "Take a second battery, or heat less.",
    "power.mains_beside": "{mains} is a mains supply and not counted: the battery is judged alone.",
    "power.peak_of": "peak of {name}",
    "power.peak": "{peak} at {at}{unknown?: not its whole peak, the {unknown=current_peak_a:current while slewing|current at full cooling} is not known}",
    "power.taken": "{mean} at {at}{several?, all {count} of them}{fed?, {fed}}{assumed? ({assumed;})}",
    "lead.wire": "{area?{area}|{gauge} AWG}{several?, for {shared?all|one} of {pieces} pieces}",
    "lead.loses": (
        "{little?This loses little. }The lead of {name} ({wire}, {length}) {nothing?would lose all of its {source} at the peak: nothing arrives"
        "|loses {drop} at the peak: {arrives} arrive{at_end?, and {at_end} at the end of the battery's discharge (assumed)}}."
    ),
    "power.lead_starves": "It needs {least}.",
    "power.lead_hardly_runs": "With less than {share} of its {volts} it will hardly run (assumed): enter {missing}.",
    "power.lead_at_end": "At the end that is less than {share} of its {volts}, and it may stop before dawn: enter {missing}.",
    "power.lead_end_unknown": "What arrives at the end of the battery's discharge is not known yet: enter {missing}.",
    "power.lead_hot": "Its {peak} are {density} of copper, and small flexible leads are taken to bear {bears} (common practice): the wire may overheat.",
    "lead.lost": "That is more than {share} lost.",
    "lead.longest": "Of this wire it may be {longest} long at most.",
    "lead.no_fuse": "No usual fuse both carries its peak and is at or below what this wire is taken to bear ({borne}).",
    "lead.fuse": "Fit the fuse for the thinnest wire after it: if that is this one, ask its maker or an electrician about {fuse}{little_spare?, which carries the peak with less than the usual quarter to spare}.",
    "lead.none_short_enough": "No lead is short enough: it needs " + _HOLDS + ".",
    "lead.no_lower": "Where its lowest voltage is no lower than that, give it " + _HOLDS + ".",
    "lead.thicker_or_shorter": "{gauge?Take {gauge} AWG or thicker, or {longest?shorten it to {longest} at most|bring the battery much nearer}|{longest?Shorten it to {longest} at most|Bring the battery much nearer}}.",
    "lead.thicker": "Take {gauge} AWG or thicker; a shorter lead of this wire is as hot.",
    "lead.several": "Take a thicker wire, or several leads, as its maker or an electrician says{nearer?, and bring the battery much nearer}.",
    "lead.least_unknown": "not known: taken to be {share} of {volts}",
    "lead.peak": "{peak}{several?, {pieces} pieces together}{assumed? ({assumed;})}",
    "lead.begins": "{source}; at the end {end} ({by})",
    "lead.copper": "{area} of cross-section",
    "lead.density": "{density}; {bears} are taken to be borne: {borne}",
    "lead.above": "{times} times at least",
    "lead.warm": "20 °C; in the cold it loses less, a tenth at -5 °C",
    "lead.may_be_lost": "{allowed}: {share} of {volts} at most, and what it bears must arrive",
    "lead.any_length": "any length",
    "lead.heat": "{heat?{heat}|the peak cannot flow}",
}
TITLES = {
    "power": "Power",
    **{
        f"power.lead_{one}": "Lead"
        for one in (
            "starves",
            "hardly_runs",
            "hot",
            "thin",
            "unguarded",
            "at_end",
            "end_unknown",
            "sound",
            "unknown",
        )
    },
}
WORKINGS = {
    "power": Working(
        "need = sum of mean current x voltage x hours, / converter where fed through it; given = capacity x voltage x usable share x cold share x drain share (lead only: Peukert)",
        "Charge and energy; the night by the Sun's altitude at the site, its upper edge on the level horizon (the Sun by the IAU's models). "
        f"Usable and cold shares of a battery: {COMMON_PRACTICE}",
    ),
    "power.lead": Working(
        "drop = 2 x resistivity x length / area x peak current; arrives = voltage - drop; heat = drop x current; density = current / area; longest = length x what may be lost / drop",
        "Ohm's law; wire sizes ASTM B258, copper by the International Annealed Copper Standard; blade fuses ISO 8820-3 (from memory). "
        f"A lead that loses a twentieth at most, {DENSITY_A_MM2:g} A/mm² in small flexible leads, the voltage of a battery at the end of its discharge, "
        f"and nine tenths of its voltage for a device whose lowest nobody gave: {COMMON_PRACTICE}",
    ),
}
