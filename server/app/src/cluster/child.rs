//! The running `postgres`: one thread starts it, waits for it, and starts it again when it dies
//! without being asked to. The thread matters: the kernel ties a child's life to the *thread* that
//! made it, and a runtime's worker threads come and go.

use std::os::unix::process::CommandExt;
use std::process::Stdio;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use super::ClusterError;
use super::home::Home;
use super::programs::Programs;
use super::stale;

/// Time for an orderly shutdown, then for an immediate one.
const ORDERLY: Duration = Duration::from_secs(60);
const IMMEDIATE: Duration = Duration::from_secs(10);
/// Failures in a row after which it is not started again.
const TRIES: u32 = 5;
/// A run at least this long counts as a success and resets the count.
const STEADY: Duration = Duration::from_secs(60);

#[derive(Debug, Default)]
struct State {
    pid: Option<u32>,
    stopping: bool,
    /// The thread has ended; the reason if it was not asked to.
    ended: bool,
    gave_up: Option<String>,
}

#[derive(Debug, Default)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A kept-alive `postgres`.
#[derive(Debug)]
pub(super) struct Child {
    shared: Arc<Shared>,
}

impl Child {
    /// Starts `postgres` with these settings and keeps it running until told otherwise.
    pub(super) fn spawn(
        home: &Home,
        programs: &Programs,
        settings: &[String],
    ) -> Result<Self, ClusterError> {
        let log = home.open_log()?;
        let mut command = home.tied_command(&programs.postgres());
        command.arg("-D").arg(home.data());
        for setting in settings {
            command.args(["-c", setting]);
        }
        let output = log
            .try_clone()
            .map_err(super::error::file("open", &home.log()))?;
        command.stdin(Stdio::null()).stdout(output).stderr(log);
        // Its own group: Ctrl-C at the terminal must reach the server first, which then stops
        // PostgreSQL when its last request is done.
        command.process_group(0);
        let shared = Arc::new(Shared::default());
        let keeper = Arc::clone(&shared);
        thread::Builder::new()
            .name("postgres".to_owned())
            .spawn(move || keep_running(&keeper, command))
            .map_err(super::error::file("start a thread for", &home.data()))?;
        Ok(Self { shared })
    }

    pub(super) fn pid(&self) -> Option<u32> {
        self.shared.lock().pid
    }

    /// The reason, once it is no longer started again.
    pub(super) fn gave_up(&self) -> Option<String> {
        self.shared.lock().gave_up.clone()
    }

    /// Fast shutdown (sessions are ended, data is written), and by force when that takes too long.
    pub(super) fn stop(&self) -> Result<(), ClusterError> {
        for (name, patience) in [("INT", ORDERLY), ("QUIT", IMMEDIATE), ("KILL", IMMEDIATE)] {
            self.ask(name);
            if self.has_ended_within(patience) {
                return if name == "INT" {
                    Ok(())
                } else {
                    Err(ClusterError::Forced)
                };
            }
        }
        Err(ClusterError::Forced)
    }

    fn ask(&self, name: &str) {
        let mut state = self.shared.lock();
        state.stopping = true;
        if let Some(pid) = state.pid {
            stale::signal(pid, name);
        }
        self.shared.changed.notify_all();
    }

    fn has_ended_within(&self, patience: Duration) -> bool {
        let state = self.shared.lock();
        let waited = self
            .shared
            .changed
            .wait_timeout_while(state, patience, |state| !state.ended);
        waited.unwrap_or_else(PoisonError::into_inner).0.ended
    }
}

impl Drop for Child {
    fn drop(&mut self) {
        if !self.shared.lock().ended {
            self.ask("INT");
        }
    }
}

fn keep_running(shared: &Shared, mut command: std::process::Command) {
    let mut failures = 0_u32;
    loop {
        let started = Instant::now();
        let reason = match run_once(shared, &mut command) {
            Ok(status) => format!("postgres ended ({status})"),
            Err(error) => format!("postgres could not be run: {error}"),
        };
        failures = if started.elapsed() > STEADY {
            1
        } else {
            failures + 1
        };
        let mut state = shared.lock();
        state.pid = None;
        if state.stopping || failures >= TRIES {
            state.gave_up = (!state.stopping).then_some(reason);
            state.ended = true;
            shared.changed.notify_all();
            return;
        }
        tracing::error!(
            reason,
            "the private database ended by itself; starting it again"
        );
        // Back ends of a killed PostgreSQL need a moment to go before a new one may start.
        let pause = Duration::from_millis(250) * 2_u32.pow(failures);
        let waited = shared
            .changed
            .wait_timeout_while(state, pause, |state| !state.stopping);
        let mut state = waited.unwrap_or_else(PoisonError::into_inner).0;
        if state.stopping {
            state.ended = true;
            shared.changed.notify_all();
            return;
        }
    }
}

fn run_once(
    shared: &Shared,
    command: &mut std::process::Command,
) -> std::io::Result<std::process::ExitStatus> {
    let mut state = shared.lock();
    if state.stopping {
        // Asked to stop between two runs: nothing to start.
        return Ok(std::process::ExitStatus::default());
    }
    let mut child = command.spawn()?;
    state.pid = Some(child.id());
    shared.changed.notify_all();
    drop(state);
    child.wait()
}
