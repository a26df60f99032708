//! Rendered phone clips of a back with coloured dots, of which the truth is known to a hundredth of a pixel.
//!
//! The body moves as the simulator says at 240 Hz; a picture is the mean of the half of its interval in which the
//! shutter is open, so dots are blurred as they move. Skin has slopes of light and flickers; every pixel has noise; an
//! arm of the skin's colour sweeps over the dots; things of the dots' colour stand on the wall and pass by. Then `ffmpeg`
//! compresses it, which takes half of the colour's pixels away.

use nalgebra::{Matrix2, Vector2, Vector3};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use scaplane::simulate::{
    CameraTruth, Clip, Exercise, Noise, Point, Points, Recipe, Truth, View, simulate,
};
use std::io::Write;
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// Moments a second of the simulation.
const FINE_HZ: usize = 240;

/// What is rendered.
#[derive(Clone, Debug)]
pub struct Look {
    pub seed: u64,
    pub exercise: Exercise,
    pub size: [u32; 2],
    /// Moments of the simulation from picture to picture; more than one entry is a varying rate.
    pub steps: Vec<usize>,
    /// Blue, green, red of the dots.
    pub dot: [f32; 3],
    /// With dots on C7 and the middle of the back.
    pub five: bool,
    /// With an arm that sweeps over the dots, and a thing of their colour that passes by.
    pub disturbed: bool,
    /// With a stripe of the dots' colour on the shorts, and somebody beside who wears three dots of it.
    pub company: bool,
    /// Most pictures.
    pub most: usize,
}

pub const COLOURS: [[f32; 3]; 3] = [
    [70.0, 165.0, 40.0],
    [185.0, 95.0, 35.0],
    [150.0, 65.0, 225.0],
];

impl Look {
    /// A portrait clip at 30 pictures a second; what varies is drawn by the seed.
    pub fn of_seed(seed: u64, most: usize) -> Look {
        let exercises = [
            Exercise::ScapularRaise,
            Exercise::FrontalRaise,
            Exercise::ForwardRaise,
            Exercise::OverheadPress,
        ];
        let n = seed as usize;
        Look {
            seed,
            exercise: exercises[n % 4],
            size: if n % 5 == 4 {
                [1920, 1080]
            } else {
                [1080, 1920]
            },
            steps: vec![FINE_HZ / 30],
            dot: COLOURS[n % 3],
            five: n.is_multiple_of(2),
            disturbed: true,
            company: false,
            most,
        }
    }
}

/// The dots in the order of the truth.
pub const DOTS: [(&str, Point); 5] = [
    ("acromial-angle", Point::RightAa),
    ("spine-root", Point::RightTs),
    ("inferior-angle", Point::RightAi),
    ("c7", Point::C7),
    ("mid-back", Point::T8),
];

/// A clip as it was rendered.
pub struct Rendered {
    /// The clip at the pictures' times: truth and what an estimator saw.
    pub clip: Clip,
    /// Seconds of each picture.
    pub times_s: Vec<f64>,
    /// Centre of each dot in each picture, and how much of it the arm covers, 0 to 1.
    pub dots: Vec<Vec<(Vector2<f64>, f64)>>,
}

/// Where the disturbing things are at a moment.
struct Disturbance {
    arm: [Vector2<f64>; 2],
    arm_radius: f64,
    passing: Vector2<f64>,
    passing_radius: f64,
}

/// Renders a clip and hands each picture (blue green red) on.
pub fn render(look: &Look, mut take: impl FnMut(&[u8], f64)) -> Rendered {
    let noise = Noise {
        uneven: 0.0,
        dropped: 0.0,
        ..Noise::typical()
    };
    let recipe = Recipe {
        exercise: look.exercise,
        seed: look.seed,
        reps: 1,
        still_s: 0.6,
        rate_hz: FINE_HZ as f64,
        view: View::Back,
        width_px: look.size[0],
        height_px: look.size[1],
        noise,
        ..Recipe::default()
    };
    let fine = simulate(&recipe).expect("a sound recipe");
    let mut starts = Vec::new();
    let mut at = 0;
    while at + FINE_HZ / 30 < fine.truth.frames.len() && starts.len() < look.most {
        starts.push(at);
        at += look.steps[starts.len() % look.steps.len()];
    }
    let count = look.dots();
    let camera = fine.truth.camera;
    let mut stage = Stage::new(look, &fine.truth.frames[0].points, &camera);
    let mut rendered = Rendered {
        times_s: starts
            .iter()
            .map(|start| *start as f64 / FINE_HZ as f64)
            .collect(),
        dots: Vec::new(),
        clip: Clip {
            recipe: Recipe {
                rate_hz: 30.0,
                ..recipe.clone()
            },
            truth: Truth {
                frames: Vec::new(),
                ..fine.truth.clone()
            },
            frames: Vec::new(),
        },
    };
    let end_s = rendered.times_s.last().copied().unwrap_or(0.0);
    for (start, time_s) in starts.iter().zip(rendered.times_s.clone()) {
        // The shutter is open for half of a thirtieth of a second.
        let open: Vec<&Points> = (0..FINE_HZ / 60)
            .map(|n| &fine.truth.frames[start + n].points)
            .collect();
        let middle = start + FINE_HZ / 120;
        let disturbances: Vec<Option<Disturbance>> = (0..open.len())
            .map(|n| look.disturbance(time_s + n as f64 / FINE_HZ as f64, end_s, open[n], &camera))
            .collect();
        stage.picture(&open, &disturbances, count, &camera);
        take(stage.bytes(), time_s);
        let row = (0..count).map(|dot| {
            let places: Vec<Vector2<f64>> = open
                .iter()
                .map(|points| project(&camera, &points[DOTS[dot].1]))
                .collect();
            let centre = places.iter().sum::<Vector2<f64>>() / places.len() as f64;
            let radius = stage.radius(&camera, &open[0][DOTS[dot].1]);
            let covered = disturbances
                .iter()
                .flatten()
                .zip(&places)
                .map(|(d, at)| d.covers(*at, radius))
                .sum::<f64>();
            (centre, covered / places.len() as f64)
        });
        rendered.dots.push(row.collect());
        rendered
            .clip
            .truth
            .frames
            .push(fine.truth.frames[middle].clone());
        let mut frame = fine.frames[middle].clone();
        frame.time_s = time_s;
        rendered.clip.frames.push(frame);
    }
    rendered
}

fn project(camera: &CameraTruth, point: &Vector3<f64>) -> Vector2<f64> {
    let (x, y) = camera.project(point).expect("before the camera");
    Vector2::new(x, y)
}

impl Look {
    /// Sixtieths of a second at which the pictures are, if the steps are whole ones.
    pub fn ticks(&self) -> Vec<usize> {
        let mut at = 0;
        let mut ticks = vec![0];
        for n in 1..self.most {
            at += self.steps[n % self.steps.len()] * 60 / FINE_HZ;
            ticks.push(at);
        }
        ticks
    }

    pub fn dots(&self) -> usize {
        if self.five { 5 } else { 3 }
    }

    /// An arm comes in from the side, covers the blade and goes again; later a thing of the dots' colour passes close by.
    fn disturbance(
        &self,
        time_s: f64,
        end_s: f64,
        points: &Points,
        camera: &CameraTruth,
    ) -> Option<Disturbance> {
        if !self.disturbed {
            return None;
        }
        let part = time_s / end_s;
        let blade = project(
            camera,
            &((points[Point::RightAa] + points[Point::RightAi]) / 2.0),
        );
        let scale = camera.focal_px / camera.distance_m;
        // In at 0.35, over the blade until 0.5, out at 0.6 of the clip.
        let away = ((part - 0.35) / 0.1).clamp(0.0, 1.0) - ((part - 0.5) / 0.1).clamp(0.0, 1.0);
        let hand = blade + Vector2::new(0.9 - away, 0.25 - 0.3 * away) * scale;
        let elbow = hand + Vector2::new(0.35, 0.25) * scale;
        let pass = (part - 0.7) / 0.2;
        let spine = project(camera, &points[Point::RightTs]);
        let passing = spine + Vector2::new(0.6 - 1.2 * pass, 0.07) * scale;
        Some(Disturbance {
            arm: [hand, elbow],
            arm_radius: 0.07 * scale,
            passing,
            passing_radius: 0.011 * scale,
        })
    }
}

impl Disturbance {
    /// Share of a disc that the arm covers.
    fn covers(&self, at: Vector2<f64>, radius: f64) -> f64 {
        let inside = self.arm_radius - distance_to_line(at, self.arm);
        (0.5 + inside / (2.0 * radius)).clamp(0.0, 1.0)
    }
}

fn distance_to_line(at: Vector2<f64>, [a, b]: [Vector2<f64>; 2]) -> f64 {
    let way = b - a;
    let along = ((at - a).dot(&way) / way.norm_squared().max(1e-9)).clamp(0.0, 1.0);
    (at - a - way * along).norm()
}

/// How much of a pixel lies within an edge at a distance (positive inside).
fn cover(inside: f64) -> f32 {
    (0.5 + inside).clamp(0.0, 1.0) as f32
}

/// The picture that is painted.
struct Stage {
    width: usize,
    height: usize,
    wall: Vec<[f32; 3]>,
    canvas: Vec<[f32; 3]>,
    bytes: Vec<u8>,
    grain: Vec<i8>,
    random: ChaCha8Rng,
    dot: [f32; 3],
    skin: [f32; 3],
    dot_radius_m: f64,
    light: Light,
    flicker: f32,
    company: bool,
}

impl Stage {
    fn new(look: &Look, points: &Points, camera: &CameraTruth) -> Stage {
        let mut random = ChaCha8Rng::seed_from_u64(look.seed ^ 0xd07);
        let [width, height] = look.size.map(|side| side as usize);
        let grain: Vec<i8> = (0..1 << 20)
            .map(|_| {
                ((0..4)
                    .map(|_| random.random_range(-1.0..1.0_f64))
                    .sum::<f64>()
                    * 3.5) as i8
            })
            .collect();
        let mut stage = Stage {
            width,
            height,
            wall: vec![[0.0; 3]; width * height],
            canvas: vec![[0.0; 3]; width * height],
            bytes: vec![0; 3 * width * height],
            grain,
            dot: look.dot,
            skin: [
                [125.0, 150.0, 205.0],
                [70.0, 95.0, 140.0],
                [45.0, 62.0, 92.0],
            ][look.seed as usize % 3],
            dot_radius_m: random.random_range(0.0065..0.0095),
            light: Light {
                middle: Vector2::zeros(),
                reach: 1.0,
                slope: [
                    random.random_range(-0.35..0.35),
                    random.random_range(-0.2..0.2),
                ],
            },
            flicker: 1.0,
            company: look.company,
            random,
        };
        for y in 0..height {
            for x in 0..width {
                let light =
                    0.75 + 0.2 * (x as f32 / width as f32) - 0.1 * (y as f32 / height as f32);
                stage.canvas[y * width + x] = [168.0 * light, 172.0 * light, 170.0 * light];
            }
        }
        // Things of the dots' colour on the wall: a poster, and two as small as dots.
        let scale = camera.focal_px / camera.distance_m;
        let head = project(camera, &points[Point::Neck]);
        let colour = look.dot.map(|c| c * 0.9);
        for (dx, dy, size) in [(0.55, -0.3, 0.05), (-0.5, 0.1, 0.009), (0.45, 0.25, 0.012)] {
            stage.disc(head + Vector2::new(dx, dy) * scale, size * scale, colour);
        }
        stage.wall.clone_from(&stage.canvas);
        stage
    }

    fn radius(&self, camera: &CameraTruth, at: &Vector3<f64>) -> f64 {
        self.dot_radius_m * camera.focal_px / (camera.distance_m - at.z)
    }

    fn disc(&mut self, at: Vector2<f64>, radius: f64, colour: [f32; 3]) {
        self.paint(at, radius + 1.0, |p| {
            (cover(radius - (p - at).norm()), colour)
        });
    }

    fn capsule(&mut self, line: [Vector2<f64>; 2], radius: f64, colour: [f32; 3]) {
        let middle = (line[0] + line[1]) / 2.0;
        let reach = (line[1] - line[0]).norm() / 2.0 + radius + 1.0;
        self.paint(middle, reach, |p| {
            let from = distance_to_line(p, line);
            // Round things are darker toward their edge.
            let light = 1.0 - 0.25 * (from / radius).clamp(0.0, 1.0).powi(2) as f32;
            (cover(radius - from), colour.map(|c| c * light))
        });
    }

    /// Blends a shape into a square around a place.
    fn paint(
        &mut self,
        at: Vector2<f64>,
        reach: f64,
        shape: impl Fn(Vector2<f64>) -> (f32, [f32; 3]),
    ) {
        let range = |middle: f64, side: usize| {
            let clamp = |v: f64| v.clamp(0.0, side as f64) as usize;
            clamp((middle - reach).floor())..clamp((middle + reach).ceil())
        };
        for y in range(at.y, self.height) {
            for x in range(at.x, self.width) {
                let (share, colour) = shape(Vector2::new(x as f64 + 0.5, y as f64 + 0.5));
                if share > 0.0 {
                    let pixel = &mut self.canvas[y * self.width + x];
                    for (own, new) in pixel.iter_mut().zip(colour) {
                        *own += share * (new - *own);
                    }
                }
            }
        }
    }

    /// A stripe below the hips, and somebody with dots like those of the person who exercises.
    fn company(&mut self, at: &impl Fn(Point) -> Vector2<f64>, scale: f64) {
        let colour = self.dot.map(|c| c * 0.95);
        let below = Vector2::new(0.0, 0.07 * scale);
        let stripe = [Point::RightHip, Point::LeftHip].map(|hip| at(hip) + below);
        self.capsule(stripe, 0.012 * scale, colour);
        let beside = Vector2::new(0.62 * scale, 0.02 * scale);
        let (neck, hips) = (at(Point::C7) + beside, at(Point::RightHip) + beside);
        self.capsule(
            [neck, Vector2::new(neck.x, hips.y)],
            0.14 * scale,
            self.skin,
        );
        for blade in [Point::RightAa, Point::RightTs, Point::RightAi] {
            let radius = self.dot_radius_m * scale;
            self.disc(at(blade) + beside, radius, self.dot);
        }
    }

    fn picture(
        &mut self,
        open: &[&Points],
        disturbances: &[Option<Disturbance>],
        dots: usize,
        camera: &CameraTruth,
    ) {
        let points = open[open.len() / 2];
        let at = |point: Point| project(camera, &points[point]);
        let scale = camera.focal_px / camera.distance_m;
        self.canvas.copy_from_slice(&self.wall);
        self.flicker = 0.95 + 0.1 * self.random.random::<f32>();
        let (skin, hair, cloth) = (self.skin, [40.0, 45.0, 55.0], [95.0, 60.0, 55.0]);
        for limb in [
            [Point::RightShoulder, Point::RightElbow],
            [Point::RightElbow, Point::RightWrist],
            [Point::LeftShoulder, Point::LeftElbow],
            [Point::LeftElbow, Point::LeftWrist],
        ] {
            self.capsule(limb.map(at), 0.045 * scale, skin);
        }
        self.back(&at, scale);
        for side in [
            [Point::RightHip, Point::RightKnee],
            [Point::LeftHip, Point::LeftKnee],
        ] {
            self.capsule(side.map(at), 0.09 * scale, cloth);
        }
        if self.company {
            self.company(&at, scale);
        }
        self.capsule([at(Point::C7), at(Point::Nose)], 0.055 * scale, skin);
        self.disc(
            at(Point::Nose) + Vector2::new(0.0, -0.04 * scale),
            0.1 * scale,
            hair,
        );
        for dot in 0..dots {
            self.dot(open, dot, camera);
        }
        // A band of nearly the dots' colour around the wrist.
        self.disc(
            at(Point::RightWrist),
            0.02 * scale,
            self.dot.map(|c| c * 0.8),
        );
        self.disturb(disturbances);
        self.expose();
    }

    /// The trunk: what lies within a hand of the quadrilateral of shoulders and hips.
    fn back(&mut self, at: &dyn Fn(Point) -> Vector2<f64>, scale: f64) {
        let corners = [
            Point::LeftShoulder,
            Point::RightShoulder,
            Point::RightHip,
            Point::LeftHip,
        ]
        .map(at);
        let middle = corners.iter().sum::<Vector2<f64>>() / 4.0;
        let reach = corners
            .iter()
            .map(|c| (c - middle).norm())
            .fold(0.0, f64::max)
            + 0.1 * scale;
        self.light = Light {
            middle,
            reach,
            ..self.light
        };
        let (skin, light, edge) = (self.skin, self.light, 0.065 * scale);
        self.paint(middle, reach, |p| {
            let mut inside = f64::INFINITY;
            for n in 0..4 {
                let (a, b) = (corners[n], corners[(n + 1) % 4]);
                let way = (b - a).normalize();
                inside = inside.min((p - a).dot(&Vector2::new(-way.y, way.x)));
            }
            (cover(inside + edge), skin.map(|c| c * light.at(p)))
        });
    }

    /// A dot: the mean over the open shutter of a disc that lies on the blade or the back.
    fn dot(&mut self, open: &[&Points], dot: usize, camera: &CameraTruth) {
        let discs: Vec<(Vector2<f64>, Matrix2<f64>, f64)> = open
            .iter()
            .map(|points| {
                let place = points[DOTS[dot].1];
                let [u, v] = tangents(points, dot);
                // A circle seen at a slant is an ellipse; the inverse makes it a circle again. The picture's y is down.
                let slanted = Matrix2::new(u.x, v.x, -u.y, -v.y);
                let upright = slanted.try_inverse().unwrap_or_else(Matrix2::identity);
                (
                    project(camera, &place),
                    upright,
                    self.radius(camera, &place),
                )
            })
            .collect();
        let middle = discs
            .iter()
            .map(|(centre, _, _)| centre)
            .sum::<Vector2<f64>>()
            / discs.len() as f64;
        let (colour, light) = (self.dot, self.light);
        self.paint(middle, discs[0].2 + 6.0, |p| {
            let covers = discs
                .iter()
                .map(|(centre, upright, r)| cover(r - (upright * (p - centre)).norm()));
            let share = covers.sum::<f32>() / discs.len() as f32;
            (share, colour.map(|c| c * light.at(p)))
        });
    }

    fn disturb(&mut self, disturbances: &[Option<Disturbance>]) {
        let all: Vec<&Disturbance> = disturbances.iter().flatten().collect();
        let (Some(first), light, count) = (all.first(), self.light, all.len() as f32) else {
            return;
        };
        let colour = self.dot.map(|c| c * 0.95);
        self.paint(first.passing, first.passing_radius + 12.0, |p| {
            let covers = all
                .iter()
                .map(|d| cover(d.passing_radius - (p - d.passing).norm()));
            (covers.sum::<f32>() / count, colour)
        });
        let middle = (first.arm[0] + first.arm[1]) / 2.0;
        let reach = (first.arm[1] - first.arm[0]).norm() / 2.0 + first.arm_radius + 12.0;
        let skin = self.skin;
        self.paint(middle, reach, |p| {
            let covers = all
                .iter()
                .map(|d| cover(d.arm_radius - distance_to_line(p, d.arm)));
            let round = 1.0
                - 0.2 * (distance_to_line(p, first.arm) / first.arm_radius).clamp(0.0, 1.0) as f32;
            (
                covers.sum::<f32>() / count,
                skin.map(|c| c * light.at(p) * round),
            )
        });
    }

    /// Light to bytes: flicker and the noise of every pixel.
    fn expose(&mut self) {
        let mask = self.grain.len() - 1;
        let offset = self.random.random_range(0..self.grain.len());
        let flicker = self.flicker;
        for (n, (pixel, bytes)) in self
            .canvas
            .iter()
            .zip(self.bytes.chunks_exact_mut(3))
            .enumerate()
        {
            for (c, (value, byte)) in pixel.iter().zip(bytes).enumerate() {
                let noise = f32::from(self.grain[(3 * n + c + offset) & mask]);
                *byte = (value * flicker + noise + 0.5) as u8;
            }
        }
    }

    fn bytes(&self) -> &[u8] {
        &self.bytes
    }
}

/// Two directions in which a dot lies flat, square to each other, in the room.
fn tangents(points: &Points, dot: usize) -> [Vector3<f64>; 2] {
    if dot >= 3 {
        return [Vector3::x(), Vector3::y()];
    }
    let along = (points[Point::RightAa] - points[Point::RightTs]).normalize();
    let down = points[Point::RightAi] - points[Point::RightAa];
    [along, (down - along * down.dot(&along)).normalize()]
}

/// Light on the trunk: a slope, and less toward the edges.
#[derive(Clone, Copy)]
struct Light {
    middle: Vector2<f64>,
    reach: f64,
    slope: [f32; 2],
}

impl Light {
    fn at(&self, p: Vector2<f64>) -> f32 {
        let from = (p - self.middle) / self.reach;
        let (x, y) = (from.x as f32, from.y as f32);
        (1.0 + self.slope[0] * x + self.slope[1] * y - 0.2 * x * x).clamp(0.6, 1.4)
    }
}

/// A video file written by `ffmpeg` from raw pictures.
pub struct Film {
    child: Child,
}

impl Film {
    /// Pictures of a size at an even rate; `options` are ffmpeg's for the output.
    pub fn new(path: &Path, [width, height]: [u32; 2], rate: &str, options: &[&str]) -> Film {
        let mut command = Command::new("ffmpeg");
        command.args(["-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "bgr24"]);
        command.args(["-s", &format!("{width}x{height}"), "-r", rate, "-i", "-"]);
        command
            .args(["-pix_fmt", "yuv420p"])
            .args(options)
            .arg(path)
            .stdin(Stdio::piped());
        Film {
            child: command.spawn().expect("ffmpeg"),
        }
    }

    pub fn add(&mut self, bytes: &[u8]) {
        self.child
            .stdin
            .as_mut()
            .expect("a pipe")
            .write_all(bytes)
            .expect("ffmpeg takes it");
    }

    pub fn end(mut self) {
        drop(self.child.stdin.take());
        assert!(self.child.wait().expect("an end").success());
    }
}

/// The usual way of a phone.
pub const H264: [&str; 6] = ["-c:v", "libx264", "-preset", "superfast", "-crf", "21"];
