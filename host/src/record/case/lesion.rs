//! Lesion codes, stages of digital dermatitis, and our own severity scale.

use std::fmt;

/// A lesion code of the ICAR Claw Health Atlas for which a source could be named.
#[derive(Debug, PartialEq, Eq)]
pub struct LesionCode {
    /// The atlas code.
    pub code: &'static str,
    /// The lesion's name.
    pub name: &'static str,
    /// Where the code was read.
    pub source: &'static str,
    /// Zones in which it is usual; empty where no source says so.
    pub usual_zones: &'static [u8],
}

const LIEGE: &str = "orbi.uliege.be/handle/2268/234156";
const OPEN_CODE: &str = "public recording software agrees on the code";
const ULCER_ZONES: &[u8] = &[4, 5, 6];

/// Every code that can be entered; whatever else is seen goes in as free text.
///
/// Usual zones: agproud.com/articles/28244 (white line 1-3, ulcers 4-6) and dairyhoofhealth.info (haemorrhage 4-6).
pub static CODES: [LesionCode; 10] = [
    LesionCode { code: "DD", name: "digital dermatitis", source: LIEGE, usual_zones: &[] },
    LesionCode { code: "HHE", name: "heel horn erosion", source: LIEGE, usual_zones: &[] },
    LesionCode { code: "ID", name: "interdigital dermatitis", source: LIEGE, usual_zones: &[] },
    LesionCode { code: "IH", name: "interdigital hyperplasia", source: OPEN_CODE, usual_zones: &[] },
    LesionCode { code: "IP", name: "interdigital phlegmon", source: OPEN_CODE, usual_zones: &[] },
    LesionCode { code: "SC", name: "scissor claws", source: OPEN_CODE, usual_zones: &[] },
    LesionCode { code: "SH", name: "sole haemorrhage", source: LIEGE, usual_zones: ULCER_ZONES },
    LesionCode { code: "SU", name: "sole ulcer", source: LIEGE, usual_zones: ULCER_ZONES },
    LesionCode { code: "SW", name: "swelling of coronet or bulb", source: OPEN_CODE, usual_zones: &[] },
    LesionCode { code: "WL", name: "white line disease", source: LIEGE, usual_zones: &[1, 2, 3] },
];

/// What was found: an atlas code, or the trimmer's own words.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Lesion(String);

impl Lesion {
    /// The lesion of a text; codes are accepted in either case. `None` for nothing found.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let text = text.trim();
        if text.is_empty() || ["none", "no lesion", "no", "-"].iter().any(|n| n.eq_ignore_ascii_case(text)) {
            return None;
        }
        let known =
            CODES.iter().find(|c| c.code.eq_ignore_ascii_case(text) || c.name.eq_ignore_ascii_case(text));
        Some(Self(known.map_or(text, |c| c.code).to_owned()))
    }

    /// Its entry in the atlas list; `None` for free text.
    #[must_use]
    pub fn code(&self) -> Option<&'static LesionCode> {
        CODES.iter().find(|c| c.code == self.0)
    }

    /// The code, or the free text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The name in words.
    #[must_use]
    pub fn name(&self) -> &str {
        self.code().map_or(&self.0, |c| c.name)
    }
}

impl fmt::Display for Lesion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Stage of digital dermatitis. Source: veterinaryresearch.biomedcentral.com 10.1186/s13567-020-00750-8, table 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum DdStage {
    /// Normal skin.
    M0,
    /// Early, focal, active, under 2 cm.
    M1,
    /// Ulcerative, active, usually over 2 cm, painful.
    M2,
    /// Healing, dry scab.
    M3,
    /// Chronic, hyperkeratotic.
    M4,
    /// Chronic with a small active M1 focus.
    M41,
}

impl DdStage {
    /// Every stage.
    pub const ALL: [Self; 6] = [Self::M0, Self::M1, Self::M2, Self::M3, Self::M4, Self::M41];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::M0 => "M0",
            Self::M1 => "M1",
            Self::M2 => "M2",
            Self::M3 => "M3",
            Self::M4 => "M4",
            Self::M41 => "M4.1",
        }
    }

    /// The stage of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|stage| stage.name().eq_ignore_ascii_case(name))
    }
}

/// How bad the lesion looks, on fourplate's own scale: the atlas has no standard one (adewg/ICAR#297).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// 1: to be seen, horn and skin closed.
    Mild,
    /// 2: open or sore to the touch.
    Moderate,
    /// 3: deep, large or swollen: ask the veterinarian.
    Severe,
}

impl Severity {
    /// Its number, 1 to 3.
    #[must_use]
    pub const fn number(self) -> u8 {
        match self {
            Self::Mild => 1,
            Self::Moderate => 2,
            Self::Severe => 3,
        }
    }

    /// The severity of a number or a word.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        match text.to_ascii_lowercase().as_str() {
            "1" | "mild" => Some(Self::Mild),
            "2" | "moderate" => Some(Self::Moderate),
            "3" | "severe" => Some(Self::Severe),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_read_in_either_case_and_by_name() {
        assert_eq!(Lesion::from_text("wl").unwrap().as_str(), "WL");
        assert_eq!(Lesion::from_text("Sole ulcer").unwrap().as_str(), "SU");
        assert_eq!(Lesion::from_text("stone in the cleft").unwrap().code(), None);
        assert_eq!(Lesion::from_text("none"), None);
        assert_eq!(DdStage::from_name("m4.1"), Some(DdStage::M41));
    }
}
