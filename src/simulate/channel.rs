//! Joint-angle courses made of minimum-jerk moves between key values.
//!
//! In: key times (s) and values, in order. Out: value and rate at any time. Before
//! the first and after the last key the value stands still.
//!
//! Reference: Flash and Hogan 1985, the minimum-jerk move from rest to rest:
//! `x(s) = 10 s^3 - 15 s^4 + 6 s^5`, s from 0 to 1 (from memory, not verified).

/// Share of a minimum-jerk move done at the fraction `s` of its time; 0 before, 1 after.
///
/// ```
/// use scaplane::simulate::minimum_jerk;
/// assert_eq!(minimum_jerk(0.0), 0.0);
/// assert_eq!(minimum_jerk(0.5), 0.5);
/// assert_eq!(minimum_jerk(1.0), 1.0);
/// ```
pub fn minimum_jerk(s: f64) -> f64 {
    let s = s.clamp(0.0, 1.0);
    s * s * s * (10.0 + s * (6.0 * s - 15.0))
}

/// Rate of [`minimum_jerk`] per unit of `s`; greatest in the middle (1.875), 0 at both ends.
pub fn minimum_jerk_rate(s: f64) -> f64 {
    let s = s.clamp(0.0, 1.0);
    30.0 * s * s * (1.0 - s) * (1.0 - s)
}

/// Time (s) and value.
type Key = (f64, f64);

/// A course through key values.
#[derive(Clone, Debug, Default)]
pub(super) struct Channel {
    keys: Vec<Key>,
}

impl Channel {
    /// Stands at `value` from time zero on.
    pub(super) fn at_rest(value: f64) -> Self {
        Self {
            keys: vec![(0.0, value)],
        }
    }

    /// Adds a key. A key not later than the last one replaces the keys it would overtake.
    pub(super) fn key(&mut self, time_s: f64, value: f64) {
        while self.keys.last().is_some_and(|last| last.0 >= time_s) {
            self.keys.pop();
        }
        self.keys.push((time_s, value));
    }

    /// Stands at the last value until `from_s`, then moves to `value` by `to_s`.
    pub(super) fn move_to(&mut self, from_s: f64, to_s: f64, value: f64) {
        let before = self.at(from_s);
        self.key(from_s, before);
        self.key(to_s.max(from_s + 1e-3), value);
    }

    fn bracket(&self, time_s: f64) -> (Option<&Key>, Option<&Key>) {
        let next = self.keys.partition_point(|key| key.0 <= time_s);
        let before = next.checked_sub(1).and_then(|index| self.keys.get(index));
        (before, self.keys.get(next))
    }

    /// The value at a time.
    pub(super) fn at(&self, time_s: f64) -> f64 {
        match self.bracket(time_s) {
            (Some(&(t0, v0)), Some(&(t1, v1))) => {
                v0 + (v1 - v0) * minimum_jerk((time_s - t0) / (t1 - t0))
            }
            (Some(&(_, value)), None) | (None, Some(&(_, value))) => value,
            (None, None) => 0.0,
        }
    }

    /// The rate per second at a time.
    pub(super) fn rate(&self, time_s: f64) -> f64 {
        match self.bracket(time_s) {
            (Some(&(t0, v0)), Some(&(t1, v1))) => {
                (v1 - v0) / (t1 - t0) * minimum_jerk_rate((time_s - t0) / (t1 - t0))
            }
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_move_starts_and_ends_at_rest_and_is_fastest_in_the_middle() {
        let mut channel = Channel::at_rest(10.0);
        channel.move_to(1.0, 3.0, 50.0);
        assert_eq!(channel.at(0.5), 10.0);
        assert_eq!(channel.at(1.0), 10.0);
        assert!((channel.at(2.0) - 30.0).abs() < 1e-12);
        assert_eq!(channel.at(9.0), 50.0);
        assert_eq!(channel.rate(1.0), 0.0);
        assert!((channel.rate(2.0) - 40.0 / 2.0 * 1.875).abs() < 1e-12);
        let slope = (channel.at(1.7001) - channel.at(1.6999)) / 0.0002;
        assert!((channel.rate(1.7) - slope).abs() < 1e-5);
    }

    #[test]
    fn a_late_key_replaces_what_it_overtakes() {
        let mut channel = Channel::at_rest(0.0);
        channel.key(2.0, 5.0);
        channel.key(1.0, 7.0);
        assert_eq!(channel.at(3.0), 7.0);
    }
}
