//! The guided run on virtual boards: the scripted hand answers, the data decide when to go on.
use trimbench::desk::naming::name_session;
use trimbench::guide::{Ending, Guide, Out, Parts};
use trimbench::rig::{HostUs, POSITIONS, Rig, Task};
use trimbench::segment;
use trimbench::session::{About, Inputs, Intake, Session};
use trimbench::virtual_board::{Options, VirtualBoard};
use trimbench::wire::Role;

/// A board, a guide over it, and what the guide said.
struct Run {
    board: VirtualBoard,
    rig: Rig,
    session: Session,
    intake: Intake,
    begun_row: usize,
    said: Vec<String>,
    reviewed: bool,
    /// Board time at which the roll-call began, and how long it took.
    called_us: u64,
    roll_call_s: f64,
}

impl Run {
    fn new(options: &Options) -> Run {
        let board = VirtualBoard::new(options).expect("a board");
        let rig = board.rig().clone();
        let intake = Intake::new(Some(board.dialect().clone()));
        Run {
            board,
            rig,
            session: Session::new(About::default()),
            intake,
            begun_row: 0,
            said: vec![],
            reviewed: false,
            called_us: 0,
            roll_call_s: 0.0,
        }
    }

    /// A tenth of a second of the board.
    fn pass(&mut self) {
        let mut bytes = Vec::new();
        self.board.advance(self.board.now_us() + 100_000, &mut bytes);
        self.intake.push(self.board.now_us(), &bytes);
        self.session.append(&self.intake.take());
    }

    fn obey(&mut self, outs: Vec<Out>) {
        for out in outs {
            match out {
                Out::Mark(mark) => {
                    if let Some((control, _)) = mark.call() {
                        self.board.hand().call(control);
                    }
                    // Set after the read that it answers, as on a desk.
                    self.session.mark(mark.set_at(HostUs(self.board.now_us() + 1)));
                }
                Out::Heard => unreachable!("taken before"),
                Out::Begin(task) => {
                    if task == Task::RollCall {
                        self.called_us = self.board.now_us();
                    }
                    self.said.push(task.word().to_owned());
                    self.begun_row = self.session.rows();
                    self.board.hand().prompt(Some(task));
                }
                Out::Review => {
                    self.reviewed = true;
                    self.board.hand().prompt(None);
                }
            }
        }
    }

    /// Runs the guide to its review; seconds of board time that it took.
    fn run_to_review(&mut self, guide: &mut Guide) -> f64 {
        let outs = guide.start();
        self.obey(outs);
        let begun_us = self.board.now_us();
        while !self.reviewed {
            self.pass();
            let rows = self.begun_row..self.session.rows();
            let tracks = self.session.tracks_of(rows.clone(), &self.rig);
            let share = guide.prompt().share;
            assert!((0.0..=1.0).contains(&share), "{share}");
            let mut outs = if guide.task() == Some(Task::RollCall) {
                let inputs = Inputs { first: 0, ..self.session.inputs_of(rows) };
                guide.listen(&tracks, &inputs, false)
            } else {
                guide.observe(&tracks, false)
            };
            if outs == [Out::Heard] {
                self.roll_call_s = (self.board.now_us() - self.called_us) as f64 * 1e-6;
                outs = guide.go_on();
            }
            self.obey(outs);
            let s = (self.board.now_us() - begun_us) as f64 * 1e-6;
            assert!(s < 240.0, "stuck at {:?}: {:?}", guide.task(), guide.prompt());
        }
        (self.board.now_us() - begun_us) as f64 * 1e-6
    }

    fn guide(&mut self, seed: u64) -> Guide {
        (0..3).for_each(|_| self.pass());
        Guide::new(Parts::of(&self.session.tracks(&self.rig), 7, &self.rig), seed)
    }
}

#[test]
fn a_run_ends_by_itself_with_all_that_was_asked_for() {
    for seed in 1..=3 {
        let twelve = seed == 3;
        let options = Options {
            seed,
            raw_bits: Some(if twelve { 12 } else { 10 }),
            rate_hz: if twelve { 1000.0 } else { 250.0 },
            ..Options::default()
        };
        let mut run = Run::new(&options);
        let mut guide = run.guide(seed);
        let seconds = run.run_to_review(&mut guide);
        assert!(seconds < 170.0, "seed {seed}: {seconds} s of attention");
        assert_eq!(run.said, ["rest", "roll-call", "roll", "releases", "triggers", "buttons"]);
        assert!(run.roll_call_s > 5.0 && run.roll_call_s < 35.0, "{} s", run.roll_call_s);
        assert!(guide.tasks().all(|(_, ending)| ending == Some(Ending::Sufficed)));
        // The whole session, read with its marks, holds what the guide waited for.
        let tracks = run.session.tracks(&run.rig);
        let found = segment::find(&tracks);
        super::assert_sound(&tracks, &found);
        let done = super::Done::found(&found);
        let least = |have: &[usize], need: usize| have.iter().all(|&h| h >= need);
        assert!(least(&done.releases, 16), "{done:?}");

        assert!(done.turns.iter().all(|ways| least(ways, 3)), "{done:?}");
        assert!(done.pulls.iter().all(|paces| least(paces, 4)), "{done:?}");
        assert!(least(&done.presses, 5), "{done:?}");
        assert!(found.rest_rows() >= 1_900, "{}", found.rest_rows());
        let asked = found.releases.iter().flatten().all(|r| r.prompted_deg.is_some());
        assert!(asked, "every release answers a prompt for a direction");
    }
}

#[test]
fn the_same_board_and_seed_give_the_same_run() {
    let told = || {
        let mut run = Run::new(&Options { seed: 5, ..Options::default() });
        let mut guide = run.guide(8);
        let seconds = run.run_to_review(&mut guide);
        (seconds, run.session.rows(), run.session.marks().len())
    };
    assert_eq!(told(), told());
}

#[test]
fn steps_without_parts_are_left_out_and_commands_are_obeyed() {
    let mut run = Run::new(&Options { seed: 2, ..Options::default() });
    (0..3).for_each(|_| run.pass());
    let mut parts = Parts::of(&run.session.tracks(&run.rig), 7, &run.rig);
    parts.triggers.clear();
    parts.buttons = 0;
    parts.controls.clear();
    let mut guide = Guide::new(parts, 1);
    let tasks: Vec<Task> = guide.tasks().map(|(task, _)| task).collect();
    assert_eq!(tasks, [Task::Rest, Task::Roll, Task::Releases]);
    let outs = guide.start();
    run.obey(outs);
    let outs = guide.skip();
    run.obey(outs);
    assert_eq!(guide.task(), Some(Task::Roll));
    let outs = guide.redo();
    assert!(outs.contains(&Out::Begin(Task::Rest)), "nothing counted yet: back to the rest");
    run.obey(outs);
    let outs = guide.accept();
    run.obey(outs);
    assert_eq!(guide.tasks().next(), Some((Task::Rest, Some(Ending::Accepted))));
    assert_eq!(run.said, ["rest", "roll", "rest", "roll"]);
}

/// Nobody described the stream and nobody listed the parts: the names are there within 35 seconds.
#[test]
fn an_unlabelled_stream_has_every_channel_named_in_35_seconds() {
    let plain = VirtualBoard::new(&Options::default()).expect("a board").dialect().clone();
    for (seed, turn) in [(3, 4), (4, 7)] {
        let mut dialect = plain.clone();
        dialect.fields.rotate_left(turn);
        dialect.fields.swap(1, 6);
        for (k, field) in dialect.fields.iter_mut().enumerate() {
            field.name = format!("f{k}");
        }
        let truth: Vec<Role> = dialect.fields.iter().map(|f| f.role).collect();
        let options = Options { seed, dialect: Some(dialect), ..Options::default() };
        let mut run = Run::new(&options);
        (run.intake, run.rig) = (Intake::new(None), Rig::default());
        while run.session.rows() == 0 {
            run.pass();
        }
        let parts = Parts::of(&run.session.tracks(&run.rig), 7, &run.rig);
        let mut guide = Guide::roll_call(parts);
        let seconds = run.run_to_review(&mut guide);
        assert!(seconds < 35.0, "{seconds} s");
        let tracks = run.session.tracks(&run.rig);
        let naming = name_session(&run.session, &tracks, &run.rig).expect("names");
        assert_eq!(naming.roles, truth, "{}", naming.summary());
        assert_eq!((naming.named, naming.asked), (21, 21), "{}", naming.summary());
        assert_eq!(naming.rig.buttons, POSITIONS);
    }
}
