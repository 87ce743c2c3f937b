//! The profile with what is assumed about the roadside at one end of its range.
use super::keys;
use super::model::Profile;
use crate::base::error::{Error, Result};
use crate::base::settings::{End, as_table};
use crate::base::words::Case;

/// A profile at the ends of what is assumed about the roadside.
#[derive(Debug, Clone, PartialEq)]
pub struct Cases {
    /// At the favourable ends.
    pub best: Profile,
    /// As stated.
    pub likely: Profile,
    /// At the unfavourable ends.
    pub worst: Profile,
}

impl Cases {
    /// Of a profile.
    ///
    /// # Errors
    /// As of [`Profile::at`].
    pub fn of(profile: &Profile) -> Result<Self> {
        Ok(Self { best: profile.at(Case::Best)?, likely: profile.clone(), worst: profile.at(Case::Worst)? })
    }
    /// The profile of a case.
    pub fn profile(&self, case: Case) -> &Profile {
        match case {
            Case::Best => &self.best,
            Case::Likely => &self.likely,
            Case::Worst => &self.worst,
        }
    }
}

impl Profile {
    /// The same assumptions, those about the roadside at the end of their range that a case asks for. A value outside its
    /// likely range is an end of it by itself.
    ///
    /// # Errors
    /// A key that the structs do not have, which tests exclude.
    pub fn at(&self, case: Case) -> Result<Self> {
        let mut table = as_table(self)?;
        for key in keys::VALUES.iter() {
            let (Some(worse), Some((low, high))) = (key.worse, key.likely) else { continue };
            let Some((section, name)) = key.path.split_once('.') else { continue };
            let Some(value) = table.get_mut(section).and_then(|s| s.get_mut(name)) else { continue };
            let Some(stated) = value.as_float() else { continue };
            let end = match (case, worse) {
                (Case::Likely, _) => continue,
                (Case::Best, End::High) | (Case::Worst, End::Low) => low.min(stated),
                (Case::Best, End::Low) | (Case::Worst, End::High) => high.max(stated),
            };
            *value = toml::Value::Float(end);
        }
        table.try_into().map_err(|e: toml::de::Error| Error::failed("the profile", e.to_string(), "report this"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_assumption_about_the_roadside_moves_to_its_ends_and_nothing_else_does() {
        let stated = Profile::default();
        let [best, likely, worst] = [Case::Best, Case::Likely, Case::Worst].map(|c| stated.at(c).unwrap());
        assert_eq!(likely, stated);
        let table = |p: &Profile| as_table(p).unwrap();
        let (best, stated, worst) = (table(&best), table(&stated), table(&worst));
        let mut moved = 0;
        for key in keys::VALUES.iter() {
            let Some((section, name)) = key.path.split_once('.') else { continue };
            let of = |t: &toml::Table| t[section].get(name).cloned();
            let number = |t: &toml::Table| of(t).unwrap().as_float().unwrap();
            match key.worse {
                Some(End::High) => {
                    assert!(number(&best) <= number(&stated) && number(&stated) < number(&worst), "{}", key.path)
                }
                Some(End::Low) => {
                    assert!(number(&best) >= number(&stated) && number(&stated) > number(&worst), "{}", key.path)
                }
                None => assert!(of(&best) == of(&stated) && of(&worst) == of(&stated), "{}", key.path),
            }
            moved += usize::from(key.worse.is_some());
        }
        assert!(moved >= 10, "{moved}");
    }

    #[test]
    fn a_value_outside_its_likely_range_is_an_end_by_itself() {
        let mut profile = Profile::default();
        profile.building.other_m = 40.0;
        let [best, worst] = [Case::Best, Case::Worst].map(|c| profile.at(c).unwrap().building.other_m);
        assert_eq!((best, worst), (5.0, 40.0));
    }
}
