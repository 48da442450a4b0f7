"""The Bridge: what closes a gap of a rig, and kits for several rigs.

routes, kit_routes   the two pages' doors
query                what an address says of a gap, and the addresses of gaps
jobs                 searches that go on between two answers
words                lengths, masses and addresses for one reader
writer, guide        from what was found to what the page says
lines                the table: what differs from the best, and the unbeaten as points
page, kit_page       the pages
drawing              the stacks' sections, and their errors and prices as points
"""
