//! A finished clip: the recorded frames with what an estimator saw, and the truth.

use nalgebra::Vector3;

use super::blade::Dots;
use super::body::{Skeleton, thorax_axes};
use super::build::Build;
use super::curve::GirdleHabit;
use super::damage::{damage, visible};
use super::observe::{Observer, Person};
use super::passer::Passer;
use super::plan::{Plan, plan};
use super::point::{PerPoint, Points, Side};
use super::random::{Purpose, Random};
use super::recipe::{MOST_FRAMES, Recipe, RecipeError};
use super::score::{Scorer, arm_truth, trunk_lean, wrapped};
use super::sight::Sight;
use super::truth::{CameraTruth, FrameTruth, Truth};

/// One recorded frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// Time of the frame since the clip's start, seconds.
    pub time_s: f64,
    /// The people an estimator reports, in the order it reports them.
    pub people: Vec<Person>,
    /// Which of them does the exercise; `None` when that person is not seen.
    pub subject: Option<usize>,
}

impl Frame {
    /// The exercising person.
    pub fn person(&self) -> Option<&Person> {
        self.people.get(self.subject?)
    }
}

/// A synthetic clip.
#[derive(Clone, Debug)]
pub struct Clip {
    /// What it was made from.
    pub recipe: Recipe,
    /// What is true of it.
    pub truth: Truth,
    /// What was recorded.
    pub frames: Vec<Frame>,
}

impl Clip {
    /// All points of each frame as a three-dimensional system reports them: the room's axes,
    /// metres, each coordinate shaken by the recipe's marker noise.
    pub fn markers(&self) -> Vec<Points> {
        let sd = self.recipe.noise.marker_m;
        let mut random = Random::new(self.recipe.seed, Purpose::Markers);
        let mut shaken = |points: &Points| {
            PerPoint::make(|point| {
                let mut draw = || if sd > 0.0 { sd * random.normal() } else { 0.0 };
                points[point] + Vector3::new(draw(), draw(), draw())
            })
        };
        let frames = self.truth.frames.iter();
        frames.map(|frame| shaken(&frame.points)).collect()
    }
}

/// Makes the clip of a recipe. The same recipe always gives the same clip.
///
/// ```
/// use scaplane::simulate::{Recipe, simulate};
/// let clip = simulate(&Recipe::default()).unwrap();
/// assert_eq!(clip.truth.reps.len(), 6);
/// assert_eq!(clip.frames.len(), clip.truth.frames.len());
/// ```
pub fn simulate(recipe: &Recipe) -> Result<Clip, RecipeError> {
    recipe.check()?;
    let plan = plan(recipe);
    let expected = plan.duration_s * recipe.rate_hz;
    if expected > MOST_FRAMES as f64 {
        return Err(RecipeError::TooManyFrames {
            frames: expected,
            limit: MOST_FRAMES,
        });
    }
    let build = Build::varied(recipe.height_m, recipe.seed, recipe.variation);
    let still = GirdleHabit {
        share_gain: 1.0,
        ..plan.course.habit
    };
    let mut rest = recipe.curve.pose(0.0, 40.0, 0.0, &still);
    plan.course.own.add_to(&mut rest, 0.0);
    let skeleton = Skeleton::new(build, &rest);
    let times_s = frame_times(recipe, plan.duration_s);
    let truth = truth(recipe, &plan, &skeleton, &times_s);
    let frames = observe(recipe, &plan, &skeleton, &truth);
    Ok(Clip {
        recipe: recipe.clone(),
        truth,
        frames,
    })
}

/// Times of the recorded frames: even ones, shaken and thinned.
fn frame_times(recipe: &Recipe, duration_s: f64) -> Vec<f64> {
    let mut random = Random::new(recipe.seed ^ 1 << 40, Purpose::Timing);
    let noise = &recipe.noise;
    let count = (duration_s * recipe.rate_hz).floor() as usize + 1;
    (0..count)
        .filter_map(|k| {
            let shake = noise.uneven * random.normal().clamp(-1.5, 1.5);
            // the first frame is always there, so that the clip starts at zero
            if k == 0 {
                return Some(0.0);
            }
            let kept = noise.dropped == 0.0 || !random.chance(noise.dropped);
            kept.then(|| (k as f64 + shake) / recipe.rate_hz)
        })
        .collect()
}

fn truth(recipe: &Recipe, plan: &Plan, skeleton: &Skeleton, times_s: &[f64]) -> Truth {
    let course = &plan.course;
    let frames = times_s
        .iter()
        .map(|&time_s| {
            let trunk = course.trunk(time_s);
            let [left, right] = Side::BOTH.map(|side| course.side(side, time_s));
            FrameTruth {
                time_s,
                yaw_deg: wrapped(trunk.yaw_deg),
                trunk_lean_deg: trunk_lean(&trunk),
                lean_right_deg: trunk.lean_right_deg,
                lean_forward_deg: trunk.lean_forward_deg,
                trunk_turn_deg: wrapped(trunk.yaw_deg - recipe.camera_yaw_deg()),
                left: arm_truth(skeleton, &left),
                right: arm_truth(skeleton, &right),
                points: skeleton.points(&trunk, &left, &right),
            }
        })
        .collect();
    let scorer = Scorer {
        exercise: recipe.exercise,
        plan,
        skeleton,
        times_s,
    };
    let mut reps = Vec::new();
    for slot in &plan.slots {
        for side in recipe.side.sides() {
            reps.push(scorer.repetition(slot, side));
        }
    }
    Truth {
        exercise: recipe.exercise,
        rep_signal: recipe.exercise.rep_signal(),
        side: recipe.side,
        seed: recipe.seed,
        rate_hz: recipe.rate_hz,
        duration_s: plan.duration_s,
        build: *skeleton.build(),
        habit: course.habit,
        camera: CameraTruth::of(recipe),
        noise: recipe.noise.clone(),
        reps,
        frames,
    }
}

fn observe(recipe: &Recipe, plan: &Plan, skeleton: &Skeleton, truth: &Truth) -> Vec<Frame> {
    let camera = truth.camera;
    let dots = recipe
        .extras
        .skin_dots
        .then(|| Dots::new(&recipe.blade, recipe.seed));
    let mut observer = Observer::new(&recipe.noise, camera, dots, recipe.seed);
    let mut last_s = 0.0;
    let mut frames: Vec<Frame> = truth
        .frames
        .iter()
        .map(|frame| {
            let sight = Sight {
                points: &frame.points,
                axes: thorax_axes(&plan.course.trunk(frame.time_s)),
                build: skeleton.build(),
                camera: &camera,
            };
            let person = observer.next(&sight, frame.time_s - last_s);
            last_s = frame.time_s;
            Frame {
                time_s: frame.time_s,
                people: vec![person],
                subject: Some(0),
            }
        })
        .collect();
    let mut people: Vec<&mut Person> = frames
        .iter_mut()
        .filter_map(|frame| frame.people.first_mut())
        .collect();
    let scale = camera.noise_scale();
    damage(
        &mut people,
        &recipe.noise,
        plan.duration_s,
        scale,
        recipe.seed,
    );
    for frame in &mut frames {
        frame.people.retain(|person| visible(&person.image));
        if frame.people.is_empty() {
            frame.subject = None;
        }
    }
    if recipe.extras.passer_by {
        add_passer(recipe, plan.duration_s, camera, &mut frames);
    }
    frames
}

fn add_passer(recipe: &Recipe, duration_s: f64, camera: CameraTruth, frames: &mut [Frame]) {
    let mut passer = Passer::new(recipe, camera, duration_s);
    let mut random = Random::new(recipe.seed ^ 1 << 41, Purpose::Passer);
    for frame in frames {
        let Some(person) = passer.at(frame.time_s, &camera) else {
            continue;
        };
        frame.people.push(person);
        if frame.people.len() == 2 && recipe.extras.shuffle_people && random.chance(0.5) {
            frame.people.reverse();
            frame.subject = Some(1);
        }
    }
}
