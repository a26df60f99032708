//! A share of the clips: K of N, so that several machines do one list without talking to each other.

use std::str::FromStr;

/// Share `part` of `of`, counted from 1. Clips go round: the first to share 1, the second to share 2.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shard {
    /// Which share, from 1.
    pub part: u64,
    /// Number of shares.
    pub of: u64,
}

impl Shard {
    /// Whether the clip of that number, counted from 1, is in this share.
    ///
    /// ```
    /// let shard: scaplane::batch::Shard = "2/3".parse().unwrap();
    /// let numbers: Vec<u64> = (1..=8).filter(|n| shard.holds(*n)).collect();
    /// assert_eq!(numbers, [2, 5, 8]);
    /// ```
    pub fn holds(self, number: u64) -> bool {
        (number.saturating_sub(1)) % self.of == self.part - 1
    }
}

impl FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Shard, String> {
        let parts = text
            .split_once('/')
            .and_then(|(part, of)| Some((part.trim().parse().ok()?, of.trim().parse().ok()?)));
        match parts {
            Some((part, of)) if part >= 1 && part <= of => Ok(Shard { part, of }),
            _ => Err("write the share and the number of shares, such as 2/8".into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_disjoint_and_complete() {
        for of in 1..=7 {
            for number in 1..=50 {
                let holders = (1..=of).filter(|part| Shard { part: *part, of }.holds(number));
                assert_eq!(holders.count(), 1, "clip {number} of {of} shares");
            }
        }
        for bad in ["0/3", "4/3", "1", "a/b", "1/0", "-1/2"] {
            assert!(bad.parse::<Shard>().is_err(), "{bad}");
        }
    }
}
