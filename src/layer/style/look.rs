//! What a style says, before it is written in the form of a viewer.

/// Of casings, of what is hollow, and of marks that are told apart by their rim.
pub const WHITE: [u8; 3] = [0xFF, 0xFF, 0xFF];
/// Of marks and lines that no rating colours.
pub const INK: [u8; 3] = [0x1A, 0x1A, 0x1A];
/// Largest denominator of a scale at which something is drawn.
pub const ALWAYS: u32 = 0;
/// White on both sides of a road, millimetres: keeps it apart from the map below, dark or light.
pub const CASING_MM: f64 = 0.2;
/// Share of a line that is white where it is hollow.
pub const HOLLOW: f64 = 0.45;
/// Width of a line over others, and its dashes, millimetres.
pub const OVER_MM: f64 = 0.25;
pub const OVER_DASHES_MM: [f64; 2] = [1.0, 0.6];
/// Dots on roads of which something is not known, and the gaps between them, millimetres.
pub const DOTS_MM: [f64; 2] = [0.35, 1.4];

/// A style of a table.
pub struct Style {
    /// Table it is for.
    pub table: &'static str,
    /// Its name in a viewer's list.
    pub name: &'static str,
    /// What it shows.
    pub title: &'static str,
    /// Applied when the table is opened.
    pub default: bool,
    /// How roads are told apart; each road has one.
    pub grades: Vec<Grade>,
    /// What is drawn besides, in the order of the legend; all whose filter fits are drawn.
    pub rules: Vec<StyleRule>,
    /// Texts.
    pub labels: Vec<StyleLabel>,
}

/// Roads of one colour. How wide they are depends on their group, too.
pub struct Grade {
    /// Words of the legend.
    pub legend: String,
    /// Roads it is for.
    pub rows: Filter,
    /// Colour.
    pub colour: [u8; 3],
    /// Width on a main road at scales of valleys, millimetres.
    pub width_mm: f64,
    /// Lengths of dashes and gaps on roads that are not thin, millimetres; empty for a whole line.
    pub dashes_mm: &'static [f64],
}

/// What some rows look like.
pub struct StyleRule {
    /// Words of the legend.
    pub legend: String,
    /// Rows it is for.
    pub rows: Filter,
    /// Scales 1 : this and larger; [`ALWAYS`] for all.
    pub from_scale: u32,
    /// How they are drawn.
    pub symbol: Drawn,
}

/// A symbol.
pub enum Drawn {
    /// White within the line of a road, which leaves its edges.
    Hollow,
    /// Dots along the line of a road.
    Dotted,
    /// A line by itself, of segments.
    Line(PlainLine),
    /// A thin line over others.
    Over([u8; 3]),
    /// Mark at a point.
    Marker(Marker),
    /// A line of one colour and width, millimetres.
    Thin([u8; 3], f64),
    /// An area of one colour, without an outline.
    Area([u8; 3]),
}

/// The line of a ferry or shuttle train.
pub struct PlainLine {
    /// Colour.
    pub colour: [u8; 3],
    /// Width, millimetres.
    pub width_mm: f64,
    /// Lengths of dash and gap, millimetres.
    pub dash_mm: [f64; 2],
}

/// A mark.
pub struct Marker {
    /// Its shape.
    pub shape: MarkShape,
    /// Fill.
    pub fill: [u8; 3],
    /// Rim.
    pub rim: [u8; 3],
    /// Size, millimetres.
    pub size_mm: f64,
}

/// Shapes that both forms know.
#[derive(Clone, Copy)]
pub enum MarkShape {
    /// Square.
    Square,
    /// Triangle.
    Triangle,
    /// Circle.
    Circle,
    /// Cross of two slanting lines.
    Cross,
}

/// Text at rows.
pub struct StyleLabel {
    /// Rows it is for.
    pub rows: Filter,
    /// What is written, one after another.
    pub text: Vec<LabelPiece>,
    /// Scales 1 : this and larger.
    pub from_scale: u32,
    /// Height of letters, points.
    pub size_pt: f64,
    /// Where it stands.
    pub place: LabelPlace,
    /// Colour of letters.
    pub colour: [u8; 3],
    /// Where there is no room for all, higher ones go first: 0 to 10, [`USUAL_PRIORITY`] for most.
    pub priority: u8,
}

/// Where a text stands.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum LabelPlace {
    /// Beside a point.
    Beside,
    /// Along a line.
    Along,
    /// Within an area.
    Within,
}

/// A piece of a text.
#[derive(Clone)]
pub enum LabelPiece {
    /// As it stands.
    Text(&'static str),
    /// What a column holds.
    Column(&'static str),
    /// A number with one decimal.
    Rounded(&'static str),
    /// A share in percent, with one decimal.
    Percent(&'static str),
    /// The word of a code of a rating.
    RatingWord(&'static str),
}

/// Of texts that give way to no other more than that to them.
pub const USUAL_PRIORITY: u8 = 5;

/// Which rows.
#[derive(Clone)]
pub enum Filter {
    /// All.
    Every,
    /// A column holds this word.
    Is(&'static str, &'static str),
    /// A column holds this number.
    Code(&'static str, u8),
    /// A column holds at least this.
    AtLeast(&'static str, f64),
    /// A column holds less than this.
    Below(&'static str, f64),
    /// A column is empty.
    Empty(&'static str),
    /// Two columns are equal.
    Equal(&'static str, &'static str),
    /// The opposite.
    Not(Box<Filter>),
    /// All of them.
    And(Vec<Filter>),
    /// Any of them.
    Or(Vec<Filter>),
}

impl Filter {
    /// Both.
    pub fn and(self, other: Self) -> Self {
        Self::And(vec![self, other])
    }
    /// The opposite.
    pub fn not(self) -> Self {
        Self::Not(Box::new(self))
    }
    /// A column holds one of these words.
    pub fn any_of(column: &'static str, words: impl IntoIterator<Item = &'static str>) -> Self {
        Self::Or(words.into_iter().map(|word| Self::Is(column, word)).collect())
    }
}
