//! What the file system says has changed.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

use notify::event::{AccessKind, AccessMode};
use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};

use crate::failure::Failure;

/// News since the last look.
#[derive(Debug, Default)]
pub(super) struct News {
    /// Paths something happened to.
    pub(super) paths: Vec<PathBuf>,
    /// Whether events were lost, so that the folder must be listed again.
    pub(super) lost: bool,
}

/// Events of a folder and all folders in it.
pub(super) struct Events {
    inbox: Receiver<notify::Result<Event>>,
    /// Kept alive: dropped, it stops sending.
    _watcher: RecommendedWatcher,
}

impl Events {
    pub(super) fn new(folder: &Path) -> Result<Self, Failure> {
        let fault =
            |fault: notify::Error| Failure::input(format!("{}: cannot watch: {fault}", folder.display()));
        let (outbox, inbox) = channel();
        let mut watcher = notify::recommended_watcher(outbox).map_err(fault)?;
        watcher.watch(folder, RecursiveMode::Recursive).map_err(fault)?;
        Ok(Self { inbox, _watcher: watcher })
    }

    /// Waits up to `time` for the first event, then takes all that are there.
    pub(super) fn wait(&self, time: Duration) -> News {
        let mut news = News::default();
        match self.inbox.recv_timeout(time) {
            Ok(event) => news.add(event),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => {
                std::thread::sleep(time);
                news.lost = true;
            }
        }
        self.inbox.try_iter().for_each(|event| news.add(event));
        news
    }
}

impl News {
    fn add(&mut self, event: notify::Result<Event>) {
        match event {
            Ok(event) if event.need_rescan() => self.lost = true,
            Ok(event) if changes(&event.kind) => self.paths.extend(event.paths),
            Ok(_) => {}
            Err(_) => self.lost = true,
        }
    }
}

/// Reading a file changes nothing; closing it after writing may end a change.
const fn changes(kind: &EventKind) -> bool {
    !matches!(kind, EventKind::Access(access) if !matches!(access, AccessKind::Close(AccessMode::Write)))
}
