"""The plan of the invented island, in readable form.

Points are (x, y) in metres east and north of the plan's origin; ("hw", x, left) is a place beside the
coast highway's centre line at that x, `left` metres to its left when looking east. Heights are metres.
"""

WIDTH_M, HEIGHT_M = (-1000, 15000), (-1000, 10000)

OUTLINE = [
    (500, 3200), (600, 2400), (900, 1900), (1500, 1250), (1800, 1080), (2300, 1180), (2750, 900), (3800, 620), (5200, 450),
    (6800, 600), (8200, 480), (9200, 250), (10100, 560), (11200, 640), (12400, 900), (13400, 1700), (13900, 3000),
    (13600, 4400), (12900, 5600), (11800, 6700), (10400, 7600), (9000, 8300), (8000, 8600), (7300, 8420), (6400, 8500),
    (5000, 8100), (3700, 7300), (2400, 6400), (1200, 5000), (600, 4200),
]

# Relief. The ridge runs west to east; its height by x, with the pass in the dip at 6950.
RIDGE_LINE_Y_M, RIDGE_SWING_M, RIDGE_SWING_X_M = 5900, 250, 2300
RIDGE_TOP = [
    (0, 0), (1500, 60), (3000, 350), (4500, 660), (5900, 800), (6500, 570), (6950, 345), (7400, 600), (8100, 830),
    (9200, 720), (10500, 500), (12000, 240), (13500, 50), (15000, 0),
]
RIDGE_SOUTH_M, RIDGE_NORTH_M = 1700, 1600
# Hills: centre, height, spread east and north.
HILLS = [
    ((4300, 3900), 210, 800, 750),
    ((6250, 3230), 190, 900, 560),
    ((9350, 1900), 190, 250, 900),
    ((2100, 3700), 90, 600, 900),
    ((12400, 4200), 120, 700, 700),
]
# Spurs left standing in the valleys, as hills: one over the short tunnel, one above the gallery.
SPURS = [((7082, 7096), 45, 60, 60), ((7050, 6490), 60, 110, 60)]
# Valleys: floor points (x, y, height), half width of the floor, rise of the sides per metre.
VALLEYS = [
    ([(4440, 1950, 46), (4500, 2300, 56), (4900, 3000, 86), (5500, 3500, 118), (6100, 4000, 152), (6620, 4500, 196)], 55, 0.62),
    ([(11050, 500, 0), (11050, 1750, 7), (11000, 2500, 34), (10900, 3000, 62), (10700, 3600, 120), (10500, 4300, 215)], 25, 0.52),
    ([(6800, 4520, 200), (6950, 5640, 436)], 230, 0.8),
    ([(6960, 6150, 432), (7260, 8170, 28)], 390, 0.8),
]

# The coast highway's centre line; its carriageways run 10 m to either side.
HIGHWAY = [
    (2985, 1890), (3300, 1800), (3850, 1610), (4600, 1500), (5600, 1450), (6600, 1640), (7600, 1700), (8400, 1480), (9000, 1370),
    (9350, 1370), (9700, 1420), (10400, 1650), (11050, 1760), (11800, 1920), (12400, 2280), (12835, 2835),
]
HALF_SPACING_M = 10
ROUNDABOUTS = {"quay-cross": ((2950, 1900), "Quay Cross"), "easter-cross": ((12855, 2860), "Easter Cross")}
ROUNDABOUT_RADIUS_M = 24

HALF = {"highway": "trunk", "oneway": "yes", "lanes": "2", "maxspeed": "110", "surface": "asphalt", "ref": "V1",
        "name": "Coast Highway", "driving_side": "right"}
SECONDARY = {"highway": "secondary", "lanes": "2", "maxspeed": "80", "surface": "asphalt", "driving_side": "right"}
TERTIARY = {"highway": "tertiary", "maxspeed": "60", "surface": "asphalt", "driving_side": "right"}
COUNTRY = {"highway": "unclassified", "maxspeed": "60", "surface": "asphalt", "driving_side": "right"}
STREET = {"highway": "residential", "maxspeed": "30", "surface": "asphalt", "driving_side": "right"}
SERVICE = {"highway": "service", "surface": "asphalt", "driving_side": "right"}
LINK = {"highway": "trunk_link", "oneway": "yes", "lanes": "1", "maxspeed": "60", "surface": "asphalt", "driving_side": "right"}
TRACK = {"highway": "track", "tracktype": "grade3", "surface": "gravel", "driving_side": "right"}
PATH = {"highway": "footway", "surface": "gravel"}

DECK = {"bridge": "yes", "layer": "1"}
TUBE = {"tunnel": "yes", "layer": "-1"}

# Roads in order of standing: key, tags, points, and
#   curve     "smooth" (default) or the fillet radius in metres
#   start/end key of the road on which it begins or ends
#   over      crosses the highway on a bridge: (half length, tags)
#   parts     pieces with tags of their own: (from, to, kind, tags); kind is tunnel, bridge or tag
#   grade     steepest grade allowed
ROADS = [
    dict(key="eastbound", tags=HALF, side=-HALF_SPACING_M, grade=0.05, start="quay-cross", end="easter-cross", parts=[
        (("hw", 4390, 0), ("hw", 4450, 0), "tag", {"maxheight": "5.2"}),
        (("hw", 6170, 0), ("hw", 6230, 0), "tag", {"maxheight": "4.6"}),
        (("hw", 9010, 0), ("hw", 9720, 0), "tunnel", TUBE | {"name": "Gannet Shoulder Tunnel", "lit": "yes", "maxheight": "5.0"}),
        (("hw", 10930, 0), ("hw", 11175, 0), "bridge", {"bridge": "viaduct", "layer": "1", "bridge:name": "Skerry Burn Viaduct"})]),
    dict(key="westbound", tags=HALF, side=HALF_SPACING_M, grade=0.05, start="easter-cross", end="quay-cross", parts=[
        (("hw", 4450, 0), ("hw", 4390, 0), "tag", {"maxheight": "5.2"}),
        (("hw", 6230, 0), ("hw", 6170, 0), "tag", {"maxheight": "4.6"}),
        (("hw", 9720, 0), ("hw", 9010, 0), "tunnel", TUBE | {"name": "Gannet Shoulder Tunnel", "lit": "yes", "maxheight": "5.0"}),
        (("hw", 11175, 0), ("hw", 10930, 0), "bridge", {"bridge": "viaduct", "layer": "1", "bridge:name": "Skerry Burn Viaduct"})]),
    dict(key="quay-road", tags=TERTIARY | {"name": "Quay Road", "maxspeed": "50"}, grade=0.07, start="quay-cross",
         points=[(2930, 1880), (2800, 1760), (2620, 1560), (2500, 1450), (2360, 1320), (2300, 1215)]),
    dict(key="old-coast-road", tags=TERTIARY | {"name": "Old Coast Road"}, grade=0.07, start="quay-road",
         points=[(2620, 1560), (2850, 1400), (3450, 1130), (4450, 900), (5600, 860), (6600, 1000), (7300, 930), (7790, 900)]),
    dict(key="valley-road", tags=SECONDARY | {"name": "Sallow Valley Road", "ref": "V2"}, grade=0.065, start="old-coast-road",
         over=(36, DECK | {"bridge:name": "Sallow Bridge"}),
         points=[(4450, 900), (4425, 1200), (4420, 1520), (4425, 1900), (4500, 2300), (4680, 2650), (4900, 3000), (5180, 3280), (5500, 3500),
                 (5800, 3730), (6100, 4000), (6330, 4270), (6600, 4500)]),
    dict(key="pass-road", tags=TERTIARY | {"name": "Wether Pass Road", "ref": "V7", "lanes": "2", "width": "5.5"}, curve=19, grade=0.095,
         start="valley-road", parts=[
             ((7176, 6540), (6985, 6610), "tunnel", {"tunnel": "avalanche_protector", "avalanche_protector:left": "closed",
              "avalanche_protector:right": "open", "maxheight": "4.5", "name": "Wether Gallery"}),
             ((7140, 7070), (7025, 7120), "tunnel", TUBE | {"name": "Needle Tunnel", "maxheight": "4.2"})],
         points=[(6600, 4500), (7100, 4650), (6680, 4900), (7150, 5150), (6720, 5400), (7060, 5620), (6950, 5950), (6990, 6250), (7350, 6450),
                 (6650, 6730), (7400, 6960), (6700, 7250), (7480, 7480), (6950, 7750), (7480, 8010), (7700, 8200)]),
    dict(key="moor-south", tags=COUNTRY | {"name": "Moor Road"}, grade=0.07, start="old-coast-road",
         points=[(7790, 900), (7830, 1150), (7800, 1420)]),
    dict(key="moor-north", tags=COUNTRY | {"name": "Moor Road"}, grade=0.08, parts=[
        ((10835, 2996), (10965, 3004), "bridge", DECK)],
         points=[(7800, 1960), (7800, 2380), (8200, 3000), (8800, 3250), (9500, 3150), (10200, 3000), (10900, 2996), (11600, 3080), (12300, 3050),
                 (12845, 2872)], end="easter-cross"),
    dict(key="moor-deck-up", tags=COUNTRY | {"name": "Moor Road", "oneway": "yes", "lanes": "2"}, grade=0.07, start="moor-south", end="moor-north",
         over=(34, DECK | {"bridge:name": "Twin Bridges"}), points=[(7800, 1420), (7809, 1540), (7809, 1830), (7800, 1960)]),
    dict(key="moor-deck-down", tags=COUNTRY | {"name": "Moor Road", "oneway": "yes", "lanes": "2"}, grade=0.07, start="moor-north", end="moor-south",
         over=(34, DECK | {"bridge:name": "Twin Bridges"}), points=[(7800, 1960), (7791, 1830), (7791, 1540), (7800, 1420)]),
    dict(key="off-east", tags=LINK, grade=0.07, start="eastbound", end="valley-road",
         points=[("hw", 4060, -10), ("hw", 4150, -18), ("hw", 4290, -42), (4370, 1415), (4423, 1400)]),
    dict(key="on-east", tags=LINK, grade=0.07, start="valley-road", end="eastbound",
         points=[(4423, 1400), (4480, 1410), ("hw", 4570, -42), ("hw", 4690, -18), ("hw", 4790, -10)]),
    dict(key="off-west", tags=LINK, grade=0.07, start="westbound", end="valley-road",
         points=[("hw", 4790, 10), ("hw", 4690, 18), ("hw", 4570, 42), (4480, 1622), (4421, 1640)]),
    dict(key="on-west", tags=LINK, grade=0.07, start="valley-road", end="westbound",
         points=[(4421, 1640), (4370, 1630), ("hw", 4290, 42), ("hw", 4150, 18), ("hw", 4060, 10)]),
    dict(key="rest-lane", tags=SERVICE | {"oneway": "yes", "name": "Strand Halt"}, grade=0.06, start="eastbound", end="eastbound",
         points=[("hw", 6420, -10), ("hw", 6500, -22), ("hw", 6580, -52), ("hw", 6700, -55), ("hw", 6790, -22), ("hw", 6870, -10)]),
    dict(key="farm-bridge", tags=TRACK | {"tracktype": "grade2", "name": "Byre Lane"}, grade=0.11, start="old-coast-road", over=(32, DECK),
         points=[(6200, 950), (6215, 1200), (6200, 1400), (6190, 1700), (6230, 1950)]),
    dict(key="footbridge", tags=PATH | {"name": "Shingle Steps"}, grade=0.14, start="old-coast-road", over=(30, DECK),
         points=[(5300, 880), (5290, 1200), (5300, 1460), (5310, 1640)]),
    dict(key="tramway", tags={"railway": "narrow_gauge", "gauge": "750", "name": "Quarry Tramway"}, grade=0.045, over=(32, DECK),
         points=[(6990, 720), (6980, 1100), (6960, 1660), (6960, 1950), (6990, 2080)]),
    dict(key="forest-track", tags=TRACK | {"name": "Lanternwood Ride", "width": "3"}, grade=0.13, start="valley-road", end="moor-north",
         points=[(4800, 2845), (4960, 2720), (5180, 2740), (5300, 2520), (5560, 2480), (5700, 2760), (5950, 2840), (6120, 2560), (6300, 2420),
                 (6520, 2560), (6640, 2760), (6900, 2720), (7040, 2450), (7230, 2350), (7420, 2560), (7620, 2560), (7803, 2385)]),
    dict(key="high-street", tags=STREET | {"name": "High Street"}, grade=0.09, start="quay-cross",
         points=[(2926, 1904), (2720, 1880), (2500, 1850), (2300, 1830), (2100, 1800), (1900, 1790), (1700, 1780)]),
    dict(key="harbour-street", tags=STREET | {"name": "Harbour Street"}, grade=0.09, start="quay-road",
         points=[(2500, 1450), (2300, 1390), (2100, 1360), (1900, 1370), (1730, 1400)]),
    dict(key="gauge-street", tags=STREET | {"name": "Gauge Street"}, grade=0.09, start="high-street", end="harbour-street",
         points=[(1700, 1780), (1710, 1600), (1730, 1400)]),
    dict(key="net-street", tags=STREET | {"name": "Net Street", "oneway": "yes"}, grade=0.09, start="high-street", end="harbour-street",
         points=[(2100, 1800), (2105, 1600), (2100, 1360)]),
    dict(key="ropewalk", tags=STREET | {"highway": "living_street", "name": "Ropewalk", "maxspeed": "walk"}, grade=0.09, start="high-street",
         end="harbour-street", points=[(2300, 1830), (2310, 1600), (2300, 1390)]),
    dict(key="customs-lane", tags=STREET | {"name": "Customs Lane"}, grade=0.09, start="high-street", end="harbour-street",
         points=[(2480, 1848), (2485, 1600), (2475, 1443)]),
    dict(key="market-row", tags=STREET | {"name": "Market Row"}, grade=0.09, start="customs-lane", end="gauge-street", parts=[
        ((2240, 1612), (2170, 1609), "tag", {"covered": "arcade", "maxheight": "3.8"})],
         points=[(2485, 1625), (2310, 1615), (2105, 1605), (1900, 1600), (1710, 1590)]),
    dict(key="cooper-yard", tags=SERVICE | {"name": "Cooper Yard"}, grade=0.09, start="net-street", end="ropewalk", parts=[
        ((2160, 1490), (2174, 1490), "tag", {"tunnel": "building_passage", "maxheight": "3.2"})],
         points=[(2103, 1488), (2200, 1491), (2306, 1492)]),
    dict(key="lighthouse-road", tags=COUNTRY | {"name": "Lighthouse Road"}, grade=0.09, start="high-street",
         points=[(1700, 1780), (1450, 1950), (1150, 2450), (950, 3100), (1050, 3800), (1350, 4400), (1500, 4800)]),
    dict(key="orchard-lane", tags=COUNTRY | {"name": "Orchard Lane"}, grade=0.09, start="high-street",
         points=[(2480, 1848), (2450, 2150), (2500, 2600), (2650, 2950), (2780, 3200)]),
    dict(key="ash-ride", tags=TRACK | {"tracktype": "grade2", "name": "Ash Ride"}, grade=0.1, start="orchard-lane",
         points=[(2780, 3200), (2900, 3360), (3100, 3480), (3250, 3540)]),
    dict(key="pump-lane", tags=SERVICE, grade=0.06, start="valley-road", end="valley-road", parts=[
        ((4506, 1837), (4530, 1839), "tag", {"covered": "yes", "maxheight": "4.7"})],
         points=[(4423, 1790), (4460, 1822), (4506, 1837), (4530, 1839), (4545, 1880), (4500, 1930), (4430, 1950)]),
    dict(key="camp-lane", tags=SERVICE, grade=0.09, start="valley-road", points=[(4560, 2430), (4640, 2425), (4720, 2450), (4760, 2520)]),
    dict(key="beach-lane", tags=SERVICE, grade=0.07, start="old-coast-road", points=[(5600, 860), (5610, 800), (5640, 730)]),
    dict(key="moor-halt", tags=SERVICE, grade=0.09, start="moor-north", points=[(8800, 3250), (8815, 3170), (8870, 3120)]),
    dict(key="eastmark-street", tags=STREET | {"name": "Pier Street"}, grade=0.08, start="easter-cross",
         points=[(12879, 2862), (13100, 2900), (13400, 2960), (13700, 2960), (13840, 2950)]),
    dict(key="eastmark-back", tags=STREET | {"name": "Staithe Lane"}, grade=0.09, start="eastmark-street", end="eastmark-street",
         points=[(13080, 2897), (13120, 3080), (13350, 3150), (13430, 2965)]),
    dict(key="east-pumps", tags=SERVICE, grade=0.06, start="eastmark-street", end="eastmark-street",
         points=[(13170, 2915), (13190, 2870), (13240, 2875), (13260, 2933)]),
    dict(key="pell-quay", tags=STREET | {"name": "Pell Quay"}, grade=0.09, start="pass-road",
         points=[(7700, 8200), (7850, 8290), (8050, 8330), (8250, 8340)]),
]

FERRY = [(2300, 1215), (2290, 1080), (2250, 700), (2600, -100), (4500, -450), (8000, -500), (11500, -350), (13800, 1000), (14400, 2400), (13990, 2945),
         (13840, 2950)]

# Streets that have houses: key, from and to chainage, storeys low and high, spacing between houses, setback of the front from the middle.
HOUSES = [
    ("high-street", 210, 1190, 2, 4, 3, 8.0), ("harbour-street", 30, 760, 2, 4, 2, 7.5), ("market-row", 20, 750, 3, 4, 2, 6.5),
    ("ropewalk", 30, 410, 3, 4, 1, 5.5), ("net-street", 30, 420, 3, 4, 1, 6.0), ("customs-lane", 30, 380, 2, 3, 3, 7.5),
    ("gauge-street", 30, 360, 2, 3, 4, 8.0), ("eastmark-street", 60, 900, 1, 3, 8, 9.0), ("eastmark-back", 40, 500, 1, 2, 10, 9.0),
    ("pell-quay", 40, 520, 1, 3, 6, 8.0), ("quay-road", 300, 700, 2, 3, 6, 9.0), ("lighthouse-road", 80, 500, 1, 2, 22, 12.0),
]

# Woods, drawn across the roads as mappers draw them: key, tags, ring, crown height used for the canopy raster.
WOODS = [
    ("sallow-wood", {"natural": "wood", "leaf_type": "broadleaved", "leaf_cycle": "deciduous", "height": "18", "name": "Sallow Wood"},
     [(4150, 2000), (4750, 2000), (5000, 2380), (5250, 2700), (5480, 3080), (5250, 3180), (4950, 3330), (4500, 3250), (4200, 2650)], 18),
    ("corrie-wood", {"landuse": "forest", "leaf_type": "needleleaved", "leaf_cycle": "evergreen", "genus": "Picea", "name": "Corrie Wood"},
     [(5490, 3090), (5900, 3350), (6400, 3820), (6850, 4250), (6760, 4480), (6350, 4530), (5850, 4180), (5350, 3780), (4970, 3340), (5260, 3190)], 24),
    ("lantern-wood", {"landuse": "forest", "leaf_type": "needleleaved", "leaf_cycle": "evergreen", "est_height": "22", "name": "Lanternwood"},
     [(5270, 2700), (5480, 3050), (6000, 3060), (6800, 2960), (7550, 2800), (7740, 2520), (7640, 2240), (7000, 2200), (6200, 2220), (5500, 2200),
      (5020, 2380)], 22),
    ("shoulder-copse", {"natural": "wood", "leaf_type": "mixed", "name": "Shoulder Copse"},
     [("hw", 8080, 8), ("hw", 8300, 6), ("hw", 8680, 12), ("hw", 8720, 150), ("hw", 8380, 190), ("hw", 8060, 130)], 14),
    ("moor-shelter", {"natural": "wood", "leaf_type": "needleleaved"}, [(8780, 3225), (8900, 3215), (8970, 3040), (8850, 2990), (8750, 3080)], 12),
    ("pell-wood", {"natural": "wood", "leaf_type": "broadleaved", "leaf_cycle": "deciduous", "height": "12 m"},
     [(6900, 7640), (7250, 7700), (7560, 7900), (7500, 8140), (7150, 8100), (6860, 7900)], 12),
]
CLEARING_WOOD = ([(2500, 2950), (2950, 2780), (3500, 2850), (3900, 3250), (3800, 4000), (3100, 4300), (2600, 3900)],
                 [(3020, 3370), (3300, 3330), (3420, 3560), (3200, 3720), (2980, 3600)], 16)
ORCHARD = ([(2490, 2250), (2700, 2230), (2740, 2520), (2530, 2560)], 5)
TREE_ROWS = [  # tags, road, from, to, left offset, crown height
    ({"leaf_type": "broadleaved", "leaf_cycle": "deciduous", "height": "15"}, "lighthouse-road", 600, 1300, 8, 15),
    ({"leaf_type": "broadleaved", "leaf_cycle": "deciduous"}, "old-coast-road", 900, 1700, -9, 12),
    ({"leaf_type": "broadleaved", "leaf_cycle": "deciduous"}, "orchard-lane", 480, 700, -7, 10),
]
STRIPS = [  # tags, road, from, to, left offset: hedges, walls, barriers
    ({"barrier": "hedge", "height": "2"}, "lighthouse-road", 1400, 2100, -6),
    ({"barrier": "wall", "height": "2.2", "material": "stone"}, "orchard-lane", 80, 380, 6),
    ({"barrier": "retaining_wall", "height": "4"}, "pass-road", 2050, 2200, 6),
    ({"barrier": "wall", "wall": "noise_barrier", "height": "4"}, "westbound", 8800, 9500, -9),
]
# Named places: point, kind, people.
PLACES = {
    "Harrow Quay": ((2250, 1640), "town", 3400),
    "Eastmark": ((13250, 3020), "village", 620),
    "Pellhaven": ((7900, 8260), "hamlet", 85),
}
# Those that were named later, so that all else keeps its id; a pass has no people.
LATER_PLACES = {"Sallow Cross": ((4330, 1740), "hamlet", 40), "Moor Halt": ((8790, 3330), "hamlet", None)}
PASS = ((6952, 5880), "Wether Pass")
# Water, away from roads and stops: name, tags, ring, island in it or None.
LAKES = [
    ("Holm Lough", {"natural": "water", "water": "lake"},
     [(10980, 5250), (11200, 5080), (11560, 5120), (11700, 5330), (11480, 5560), (11120, 5520)],
     [(11330, 5290), (11420, 5270), (11450, 5350), (11360, 5380)]),
    ("Skerry Head Reservoir", {"natural": "water", "water": "reservoir"},
     [(10370, 4360), (10470, 4290), (10580, 4330), (10600, 4560), (10480, 4690), (10360, 4560)], None),
]
# Drawn downstream, from the dam to the shore.
RIVER = ("Skerry Burn", [(10500, 4305), (10620, 3900), (10700, 3600), (10900, 3000), (11000, 2500), (11050, 1750), (11050, 1100), (11060, 640)])
# Rock beside the pass road: from, to (points on the road), both sides rise this high.
ROCK_WALLS = [("pass-road", (7040, 5690), (6975, 6130), 75)]
