//! How a closed set of words is declared.

/// A closed set of words.
pub trait Words: Copy + PartialEq + Send + Sync + 'static {
    /// All of them, in their order.
    const ALL: &'static [Self];
    /// The word's text.
    fn name(self) -> &'static str;
    /// The text with spaces, for people.
    fn spoken(self) -> String {
        self.name().replace('_', " ")
    }
    /// The word of a text; nothing for other texts.
    fn parse(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|w| w.name() == text)
    }
    /// All texts with commas, for messages.
    fn list() -> String {
        let names: Vec<&str> = Self::ALL.iter().map(|w| w.name()).collect();
        names.join(", ")
    }
}

/// Declares enums of words: text, list, reading back, `Display`, serde.
macro_rules! words {
    ($($(#[$meta:meta])* pub enum $name:ident { $($(#[$of:meta])* $variant:ident = $text:literal,)+ })+) => { $(
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$of])* $variant,)+ }

        impl $name {
            /// All of them, in their order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// The texts of all of them, in the same order.
            pub const NAMES: &'static [&'static str] = &[$($text),+];
            /// The text, as columns and JSON hold it.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $text,)+ }
            }
        }
        impl $crate::base::words::declare::Words for $name {
            const ALL: &'static [Self] = $name::ALL;
            fn name(self) -> &'static str {
                $name::name(self)
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.name())
            }
        }
        impl std::str::FromStr for $name {
            type Err = String;
            fn from_str(text: &str) -> Result<Self, String> {
                use $crate::base::words::declare::Words;
                Self::parse(text).ok_or_else(|| {
                    let hint = $crate::base::nearest::or_meant(text, Self::NAMES.iter().copied());
                    format!("`{text}` is not one of {}{hint}", Self::list())
                })
            }
        }
        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.serialize_str(self.name())
            }
        }
        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let text = <std::borrow::Cow<'de, str> as serde::Deserialize>::deserialize(from)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }
    )+ };
}
pub(crate) use words;
