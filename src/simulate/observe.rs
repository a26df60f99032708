//! What an estimator makes of a person: keypoints with jitter, landmark offsets and scores.
//!
//! In: true points of one person frame by frame. Out: image keypoints (pixels), world
//! landmarks (metres). Losses that hit whole stretches of frames are
//! made in `damage`.

use nalgebra::{Matrix3, Vector3};

use super::blade::Dots;
use super::noise::Noise;
use super::point::{PerPoint, Point, Points};
use super::random::{Autoregressive, Purpose, Random};
use super::sight::Sight;
use super::truth::CameraTruth;

/// A point in the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Keypoint {
    /// Pixels from the left edge.
    pub x: f64,
    /// Pixels from the top edge, downward.
    pub y: f64,
    /// Confidence from 0 (nothing known) to 1.
    pub score: f64,
}

/// One person as an estimator reports them in one frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Person {
    /// Image keypoints; score 0 for points the estimator does not know.
    pub image: PerPoint<Keypoint>,
    /// Body points about mid-hip, metres: x to the picture's right, y down, z away from the
    /// camera. Zero for points that are no body landmark.
    pub world: Points,
}

/// How much more or less than the average a point jitters, and how sure an estimator is.
/// Common practice, no source: distal and soft points jitter more.
fn jitter_factor(point: Point) -> f64 {
    match point {
        Point::LeftShoulder | Point::RightShoulder | Point::Neck => 0.8,
        Point::LeftElbow | Point::RightElbow => 1.0,
        Point::LeftWrist | Point::RightWrist => 1.4,
        Point::LeftIndex
        | Point::RightIndex
        | Point::LeftPinky
        | Point::RightPinky
        | Point::LeftThumb
        | Point::RightThumb => 1.8,
        Point::LeftHip | Point::RightHip | Point::MidHip => 1.3,
        Point::LeftAnkle
        | Point::RightAnkle
        | Point::LeftHeel
        | Point::RightHeel
        | Point::LeftFootIndex
        | Point::RightFootIndex
        | Point::LeftSmallToe
        | Point::RightSmallToe => 1.5,
        _ => 0.7,
    }
}

/// Points every body estimator reports.
pub(super) fn is_body_landmark(point: Point) -> bool {
    (point as usize) < Point::LeftSc as usize
        && !matches!(point, Point::Ij | Point::Px | Point::C7 | Point::T8)
}

/// Points that carry a coloured dot when the recipe asks for dots.
fn is_dot(point: Point) -> bool {
    (Point::LeftAc as usize..Point::LeftEl as usize).contains(&(point as usize))
}

/// The axes in which a point's landmark offset stays fixed.
enum Frame {
    Trunk,
    UpperArm(bool),
    Forearm(bool),
}

fn frame_of(point: Point) -> Frame {
    match point {
        Point::LeftElbow => Frame::UpperArm(false),
        Point::RightElbow => Frame::UpperArm(true),
        Point::LeftWrist | Point::LeftIndex | Point::LeftPinky | Point::LeftThumb => {
            Frame::Forearm(false)
        }
        Point::RightWrist | Point::RightIndex | Point::RightPinky | Point::RightThumb => {
            Frame::Forearm(true)
        }
        _ => Frame::Trunk,
    }
}

/// Orthonormal axes from a long axis and a second direction.
fn axes_from(long: Vector3<f64>, second: Vector3<f64>) -> Matrix3<f64> {
    let y = long.try_normalize(1e-9).unwrap_or_else(Vector3::y);
    let x = second
        .cross(&y)
        .try_normalize(1e-9)
        .unwrap_or_else(Vector3::x);
    Matrix3::from_columns(&[x, y, x.cross(&y)])
}

/// One estimator watching one person through a clip.
pub(super) struct Observer {
    noise: Noise,
    camera: CameraTruth,
    /// Skin dots are watched too.
    dots: Option<Dots>,
    offsets: PerPoint<Vector3<f64>>,
    depth_offsets: PerPoint<f64>,
    jitter: Vec<[Autoregressive; 2]>,
    world_jitter: Vec<[Autoregressive; 3]>,
    image: Random,
    world: Random,
}

impl Observer {
    pub(super) fn new(noise: &Noise, camera: CameraTruth, dots: Option<Dots>, seed: u64) -> Self {
        let mut landmark = Random::new(seed, Purpose::Landmarks);
        let offsets = PerPoint::make(|point| {
            let sd = match point {
                Point::LeftHip | Point::RightHip => noise.hip_landmark_m,
                _ if is_body_landmark(point) => noise.landmark_m,
                _ => 0.0,
            };
            let mut draw = || landmark.bounded(0.0, sd);
            Vector3::new(draw(), draw(), draw())
        });
        let depth_offsets = PerPoint::make(|_| landmark.bounded(0.0, noise.world_depth_offset_m));
        let mut image = Random::new(seed, Purpose::Image);
        let mut world = Random::new(seed, Purpose::World);
        let jitter = Point::ALL
            .iter()
            .map(|_| [(); 2].map(|()| Autoregressive::new(&mut image)))
            .collect();
        let world_jitter = Point::ALL
            .iter()
            .map(|_| [(); 3].map(|()| Autoregressive::new(&mut world)))
            .collect();
        Self {
            noise: noise.clone(),
            camera,
            dots,
            offsets,
            depth_offsets,
            jitter,
            world_jitter,
            image,
            world,
        }
    }

    /// The points where the estimator believes them: the truth plus the landmark offsets.
    fn believed(&self, sight: &Sight<'_>) -> Points {
        let mut seen = sight.points.clone();
        if let Some(dots) = &self.dots {
            dots.place(&mut seen, sight.axes.column(1).into());
        }
        let points = &seen;
        if self.noise.landmark_m == 0.0 && self.noise.hip_landmark_m == 0.0 {
            return seen;
        }
        let arm = |from: Point, to: Point, right: bool| {
            let side = |p: Point| if right { p } else { p.mirrored() };
            let across = points[side(Point::RightEl)] - points[side(Point::RightEm)];
            axes_from(points[side(from)] - points[side(to)], across)
        };
        let upper = [false, true].map(|r| arm(Point::RightShoulder, Point::RightElbow, r));
        let fore = [false, true].map(|r| arm(Point::RightElbow, Point::RightWrist, r));
        let pick = |pair: &[Matrix3<f64>; 2], right: bool| {
            let [l, r] = pair;
            if right { *r } else { *l }
        };
        PerPoint::make(|point| {
            let axes = match frame_of(point) {
                Frame::Trunk => sight.axes,
                Frame::UpperArm(right) => pick(&upper, right),
                Frame::Forearm(right) => pick(&fore, right),
            };
            points[point] + axes * self.offsets[point]
        })
    }

    /// The person in the next frame, `step_s` after the last one.
    pub(super) fn next(&mut self, sight: &Sight<'_>, step_s: f64) -> Person {
        let believed = self.believed(sight);
        // the memory is meant at 30 Hz
        let keep = self.noise.memory.powf((step_s * 30.0).clamp(0.01, 30.0));
        let mut image = self.image(sight, &believed, keep);
        let world = self.world(&believed, keep);
        // the two joints that are midpoints in every layout
        image[Point::Neck] = midpoint(&image, Point::LeftShoulder, Point::RightShoulder);
        image[Point::MidHip] = midpoint(&image, Point::LeftHip, Point::RightHip);
        Person { image, world }
    }

    fn image(&mut self, sight: &Sight<'_>, believed: &Points, keep: f64) -> PerPoint<Keypoint> {
        let scale = self.camera.noise_scale();
        let sd = self.noise.keypoint_px * scale;
        let of_dots = self.dots.as_ref().and_then(|dots| dots.jitter_px);
        let (camera, random) = (self.camera, &mut self.image);
        let mut image = PerPoint::filled(Keypoint::default());
        for (point, waves) in Point::ALL.iter().zip(&mut self.jitter) {
            let watched = is_body_landmark(*point) || (self.dots.is_some() && is_dot(*point));
            if !watched {
                continue;
            }
            let Some((x, y)) = camera.project(&believed[*point]) else {
                continue;
            };
            let hidden = sight.hidden(*point);
            let (mut dx, mut dy, mut doubt) = (0.0, 0.0, 0.0);
            if sd > 0.0 {
                let own = match of_dots {
                    Some(px) if is_dot(*point) => px * scale,
                    _ => sd * jitter_factor(*point),
                };
                let size = own * if hidden { 2.0 } else { 1.0 };
                let [wx, wy] = waves;
                let (jx, jy) = (wx.next(keep, random), wy.next(keep, random));
                (dx, dy) = (size * jx, size * jy);
                doubt = 0.02 * (jx * jx + jy * jy).sqrt();
            }
            let (x, y) = (x + dx, y + dy);
            let score = match (camera.sees(x, y), hidden) {
                (false, _) => 0.0,
                (true, true) => 0.45 - doubt,
                (true, false) => 0.93 - doubt,
            };
            image[*point] = Keypoint { x, y, score };
        }
        image
    }

    fn world(&mut self, believed: &Points, keep: f64) -> Points {
        let random = &mut self.world;
        let noise = &self.noise;
        let noisy = noise.world_plane_m > 0.0 || noise.world_depth_m > 0.0;
        let mut world = PerPoint::filled(Vector3::zeros());
        for (point, waves) in Point::ALL.iter().zip(&mut self.world_jitter) {
            if !is_body_landmark(*point) {
                continue;
            }
            let p = believed[*point];
            let mut q = Vector3::new(p.x, -p.y, -p.z + self.depth_offsets[*point]);
            if noisy {
                let [a, b, c] = waves;
                let factor = jitter_factor(*point);
                q.x += factor * noise.world_plane_m * a.next(keep, random);
                q.y += factor * noise.world_plane_m * b.next(keep, random);
                q.z += factor * noise.world_depth_m * c.next(keep, random);
            }
            world[*point] = q;
        }
        let origin = 0.5 * (world[Point::LeftHip] + world[Point::RightHip]);
        for point in Point::ALL {
            if is_body_landmark(*point) {
                world[*point] -= origin;
            }
        }
        world[Point::MidHip] = Vector3::zeros();
        world
    }
}

/// The point half-way, as unsure as the worse of the two; unknown when either is.
pub(super) fn midpoint(image: &PerPoint<Keypoint>, a: Point, b: Point) -> Keypoint {
    let (a, b) = (image[a], image[b]);
    Keypoint {
        x: 0.5 * (a.x + b.x),
        y: 0.5 * (a.y + b.y),
        score: a.score.min(b.score),
    }
}
