//! What a dot looks like: the colour of a dot against what lies around it.
//!
//! Colours are compared by chromaticity (each channel's share of the sum), which shading changes little. How much of a
//! pixel is dot is where its chromaticity lies on the way from the skin's to the dot's.

/// Blue, green, red, 0 to 255.
pub type Bgr = [u8; 3];

/// Bits of each channel that the table keeps.
const BITS: u32 = 6;
/// Least sum of the channels for a chromaticity that is more than noise (stated choice: a twentieth of full light).
const LEAST_SUM: f32 = 40.0;
/// How far off the way from skin to dot a pixel may lie, as a share of that way (stated choice).
const OFF_WAY: f32 = 0.45;
/// Least distance between the chromaticities of dot and skin that noise does not bridge (stated choice: four times the
/// noise of a pixel in indoor light).
const LEAST_CONTRAST: f32 = 0.06;

/// Shares of red and green.
pub(super) type Chroma = [f32; 2];

pub(super) fn chroma(colour: [f32; 3]) -> Chroma {
    let [b, g, r] = colour;
    let sum = (b + g + r).max(1.0);
    [r / sum, g / sum]
}

/// One colour of dots, as a table from colours to how much of a pixel is dot.
#[derive(Clone)]
pub struct DotColour {
    dot: Chroma,
    skin: Chroma,
    table: Vec<u8>,
}

impl std::fmt::Debug for DotColour {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "DotColour {{ dot: {:?}, skin: {:?} }}",
            self.dot, self.skin
        )
    }
}

impl DotColour {
    /// From the chromaticities of a dot and of what lies around it; `None` if they are too alike to be told apart.
    pub(super) fn new(dot: Chroma, skin: Chroma) -> Option<DotColour> {
        if distance(dot, skin) < LEAST_CONTRAST {
            return None;
        }
        let levels = 1 << BITS;
        let step = 256 / levels;
        let middle = |level: u32| (level * step) as f32 + step as f32 / 2.0;
        let mut table = Vec::with_capacity(1 << (3 * BITS));
        for b in 0..levels {
            for g in 0..levels {
                for r in 0..levels {
                    let share = share([middle(b), middle(g), middle(r)], dot, skin);
                    table.push((share * 255.0).round() as u8);
                }
            }
        }
        Some(DotColour { dot, skin, table })
    }

    /// How much of a pixel is dot, 0 to 255, by the table.
    #[inline]
    pub(super) fn share(&self, [b, g, r]: Bgr) -> u8 {
        const DROP: u32 = 8 - BITS;
        let at = ((b as usize >> DROP) << (2 * BITS))
            | ((g as usize >> DROP) << BITS)
            | (r as usize >> DROP);
        self.table.get(at).copied().unwrap_or(0)
    }

    /// Whether another dot's colour is this one's.
    pub(super) fn is_like(&self, dot: Chroma) -> bool {
        distance(self.dot, dot) < 0.5 * distance(self.dot, self.skin)
    }
}

fn distance(a: Chroma, b: Chroma) -> f32 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

fn share(colour: [f32; 3], dot: Chroma, skin: Chroma) -> f32 {
    if colour.iter().sum::<f32>() < LEAST_SUM {
        return 0.0;
    }
    let [r, g] = chroma(colour);
    let way = [dot[0] - skin[0], dot[1] - skin[1]];
    let length_squared = way[0] * way[0] + way[1] * way[1];
    let from_skin = [r - skin[0], g - skin[1]];
    let along = (from_skin[0] * way[0] + from_skin[1] * way[1]) / length_squared;
    let across = (from_skin[0] * way[1] - from_skin[1] * way[0]).abs() / length_squared;
    if across > OFF_WAY {
        0.0
    } else {
        along.clamp(0.0, 1.0)
    }
}

/// Colours that can be stated by name: the usual ones of office stickers, as a camera sees them in indoor light (from
/// memory).
const NAMED: [(&str, Bgr); 7] = [
    ("green", [70, 170, 30]),
    ("blue", [190, 90, 30]),
    ("pink", [150, 60, 230]),
    ("red", [40, 30, 210]),
    ("orange", [20, 110, 240]),
    ("yellow", [20, 215, 240]),
    ("purple", [160, 50, 110]),
];

/// The names of colours that can be stated.
pub fn colour_names() -> Vec<&'static str> {
    NAMED.iter().map(|(name, _)| *name).collect()
}

/// A colour from its name or from `#rrggbb`.
pub fn colour_from_text(text: &str) -> Option<Bgr> {
    if let Some((_, colour)) = NAMED.iter().find(|(name, _)| *name == text) {
        return Some(*colour);
    }
    let digits = text
        .strip_prefix('#')
        .filter(|digits| digits.len() == 6 && digits.is_ascii())?;
    let value = u32::from_str_radix(digits, 16).ok()?;
    let [_, r, g, b] = value.to_be_bytes();
    Some([b, g, r])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shading_changes_little_and_skin_is_no_dot() {
        let (dot, skin) = ([70.0, 170.0, 30.0], [130.0, 150.0, 200.0]);
        let model = DotColour::new(chroma(dot), chroma(skin)).expect("far apart");
        let as_bytes = |colour: [f32; 3], light: f32| colour.map(|c| (c * light) as u8);
        for light in [1.2, 1.0, 0.5] {
            assert!(model.share(as_bytes(dot, light)) > 230, "{light}");
            assert!(model.share(as_bytes(skin, light)) < 25, "{light}");
        }
        assert!(
            model.share([20, 20, 200]) < 25,
            "a red thing is off the way"
        );
        assert!(DotColour::new(chroma(dot), chroma(dot)).is_none());
    }

    #[test]
    fn colours_are_stated_by_name_or_number() {
        assert_eq!(colour_from_text("#0a14ff"), Some([255, 20, 10]));
        assert_eq!(colour_from_text("green"), Some([70, 170, 30]));
        assert_eq!(colour_from_text("#12345"), None);
        assert_eq!(colour_from_text("mauve"), None);
    }
}
