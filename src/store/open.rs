//! Opening a casebook: is it one, is it whole, is it of this version.
//!
//! A file that is no casebook, is damaged or was written by a newer program is refused and left byte for byte as
//! it is. An older one is migrated, after a copy of it was put beside it.

use super::{backup, fault, schema};
use crate::note::{Fault, FaultKind, Place};
use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How long a command waits for another that is writing. Own choice: an add takes a tenth of a second.
const PATIENCE: Duration = Duration::from_secs(10);

/// What every SQLite file begins with.
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// An open casebook.
#[derive(Debug)]
pub struct Book {
    pub(super) connection: Connection,
    path: PathBuf,
    migrated: Option<PathBuf>,
}

/// What a file is before SQLite looks at it.
enum Head {
    Missing,
    Empty,
    Database,
}

impl Book {
    /// Opens a casebook that is there.
    ///
    /// # Errors
    /// It is missing, no casebook, damaged, of a newer program, locked, or may not be written.
    pub fn open(path: &Path) -> Result<Book, Fault> {
        there(path)?;
        opened(path)
    }

    /// Opens a casebook to read it, also where nothing may be written.
    ///
    /// # Errors
    /// As [`Book::open`]; where nothing may be written also if it is of an older version, or was not closed.
    pub fn open_to_read(path: &Path) -> Result<Book, Fault> {
        match Book::open(path) {
            Err(fault) if fault.code == fault::READ_ONLY => fixed(path),
            other => other,
        }
    }

    /// Opens a casebook, or makes a new one where there is no file.
    ///
    /// # Errors
    /// As [`Book::open`]; or the folder cannot be written.
    pub fn open_or_create(path: &Path) -> Result<Book, Fault> {
        head(path)?;
        opened(path)
    }

    /// The copy that was made before the book was migrated, if it was.
    pub fn copy_of_older(&self) -> Option<&Path> {
        self.migrated.as_deref()
    }

    /// Path as it was given.
    pub fn path(&self) -> &Path {
        &self.path
    }

    pub(super) fn name(&self) -> String {
        self.path.display().to_string()
    }

    pub(super) fn fault(&self, error: &rusqlite::Error) -> Fault {
        fault::of(&self.path, error)
    }
}

/// A database file is there.
pub fn there(path: &Path) -> Result<(), Fault> {
    match head(path)? {
        Head::Database => Ok(()),
        Head::Empty => Err(Fault::new(
            FaultKind::Malformed,
            "casebook/empty",
            "the file is empty: nothing was ever added to it, or its content was lost",
            Place::file(path.display().to_string()),
            "a backup in its place if there was one; `scaplane casebook add` begins anew",
        )),
        Head::Missing => Err(Fault::new(
            FaultKind::Io,
            "casebook/missing",
            "there is no casebook",
            Place::file(path.display().to_string()),
            "checking the path; `scaplane casebook add` makes a new one",
        )),
    }
}

fn head(path: &Path) -> Result<Head, Fault> {
    let unread = |error: std::io::Error| {
        Fault::new(
            FaultKind::Io,
            "casebook/io",
            format!("the casebook could not be opened: {error}"),
            Place::file(path.display().to_string()),
            "a file that is there and that you may read",
        )
    };
    let mut file = match std::fs::File::open(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Head::Missing),
        other => other.map_err(unread)?,
    };
    if !file.metadata().map_err(unread)?.is_file() {
        return Err(fault::not_a_casebook(path));
    }
    let mut start = Vec::new();
    file.by_ref()
        .take(MAGIC.len() as u64)
        .read_to_end(&mut start)
        .map_err(unread)?;
    match start.as_slice() {
        [] => Ok(Head::Empty),
        start if start == MAGIC => Ok(Head::Database),
        _ => Err(fault::not_a_casebook(path)),
    }
}

/// A connection with what every one of ours has.
pub fn connect(path: &Path, flags: OpenFlags) -> rusqlite::Result<Connection> {
    let connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    connection.busy_timeout(PATIENCE)?;
    connection.execute_batch(
        "PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL; PRAGMA secure_delete = ON; \
         PRAGMA temp_store = MEMORY; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;",
    )?;
    Ok(connection)
}

fn opened(path: &Path) -> Result<Book, Fault> {
    let refused = |error: rusqlite::Error| fault::of(path, &error);
    let mut connection = connect(
        path,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE,
    )
    .map_err(refused)?;
    let mut migrated = None;
    match version(&connection, path)? {
        None => create(&mut connection, path)?,
        Some(version) if version < schema::VERSION => {
            sound(&connection, path)?;
            migrated = migrate(&mut connection, path, version)?;
        }
        Some(_) => {}
    }
    let version = version(&connection, path)?.unwrap_or(0);
    defined(&connection, path, version)?;
    sound(&connection, path)?;
    Ok(Book {
        connection,
        path: path.to_path_buf(),
        migrated,
    })
}

/// A book on a medium that may not be written.
fn fixed(path: &Path) -> Result<Book, Fault> {
    let connection = unwritable(path)?;
    if version(&connection, path)? != Some(schema::VERSION) {
        let older =
            "the casebook is of an older version, and may not be written to bring it to this one";
        return Err(fault::read_only(path, older));
    }
    defined(&connection, path, schema::VERSION)?;
    sound(&connection, path)?;
    Ok(Book {
        connection,
        path: path.to_path_buf(),
        migrated: None,
    })
}

/// A connection that only reads, also where nothing may be written.
pub fn to_read(path: &Path) -> Result<Connection, Fault> {
    let usual = connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)
        .map_err(|error| fault::of(path, &error))
        .and_then(|connection| version(&connection, path).map(|_| connection));
    match usual {
        Err(fault) if fault.code == fault::READ_ONLY => unwritable(path),
        other => other,
    }
}

/// A connection without a log and without the file that readers share. The log must have been written back: SQLite
/// would pass over it.
fn unwritable(path: &Path) -> Result<Connection, Fault> {
    let mut log = path.as_os_str().to_owned();
    log.push("-wal");
    if std::fs::metadata(log).is_ok_and(|log| log.len() > 0) {
        let open = "the casebook was not closed: its last changes lie in a log beside it, and it may not be written";
        return Err(fault::read_only(path, open));
    }
    let Some(name) = path.to_str() else {
        let odd = "the casebook may not be written, and its name is no plain text";
        return Err(fault::read_only(path, odd));
    };
    let name = name
        .replace('%', "%25")
        .replace('?', "%3f")
        .replace('#', "%23");
    connect(
        Path::new(&format!("file:{name}?immutable=1")),
        OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI,
    )
    .map_err(|error| fault::of(path, &error))
}

/// Version of a casebook; `None` for a file without any table.
pub fn version(connection: &Connection, path: &Path) -> Result<Option<i32>, Fault> {
    let (id, version, empty) =
        patiently(|| identity(connection)).map_err(|error| fault::of(path, &error))?;
    match (id, version) {
        (0, 0) if empty => Ok(None),
        (schema::APPLICATION_ID, version) if version > schema::VERSION => Err(Fault::new(
            FaultKind::Unsupported,
            "casebook/newer",
            format!(
                "the casebook is of version {version}, this program knows up to {}; it is left as it is",
                schema::VERSION
            ),
            Place::file(path.display().to_string()),
            "the newer program that wrote it",
        )),
        (schema::APPLICATION_ID, version) if version >= 1 && !empty => Ok(Some(version)),
        (schema::APPLICATION_ID, _) => Err(fault::corrupt(path, "it says no version")),
        _ => Err(fault::not_a_casebook(path)),
    }
}

/// What the file says it is: application, version, whether it has no table. All of one moment, since another program
/// may be making the book.
fn identity(connection: &Connection) -> rusqlite::Result<(i32, i32, bool)> {
    // Within a transaction of ours it is one moment already.
    let _moment = match connection.is_autocommit() {
        true => Some(connection.unchecked_transaction()?),
        false => None,
    };
    let number = |name| connection.pragma_query_value(None, name, |row| row.get(0));
    Ok((
        number("application_id")?,
        number("user_version")?,
        schema::definitions(connection)?.is_empty(),
    ))
}

/// A new book. Two programs may be at it: the second finds the tables made.
fn create(connection: &mut Connection, path: &Path) -> Result<(), Fault> {
    write_ahead(connection).map_err(|error| fault::of(path, &error))?;
    let made = |connection: &mut Connection| -> Result<(), Fault> {
        let refused = |error: rusqlite::Error| fault::of(path, &error);
        let transaction = connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(refused)?;
        if version(&transaction, path)?.is_none() {
            schema::migrate(&transaction, 0).map_err(refused)?;
        }
        transaction.commit().map_err(refused)
    };
    made(connection)
}

/// Sets write-ahead logging; SQLite does not wait here for another program that does the same.
fn write_ahead(connection: &Connection) -> rusqlite::Result<()> {
    patiently(|| connection.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(())))
}

/// Tries again while another program is at work, where SQLite itself does not wait.
pub fn patiently<T>(mut attempt: impl FnMut() -> rusqlite::Result<T>) -> rusqlite::Result<T> {
    let begun = Instant::now();
    loop {
        match attempt() {
            Err(rusqlite::Error::SqliteFailure(failure, _))
                if failure.code == ErrorCode::DatabaseBusy && begun.elapsed() < PATIENCE =>
            {
                std::thread::sleep(Duration::from_millis(20));
            }
            other => return other,
        }
    }
}

/// Migrates, with a copy of the older book beside it; gives the copy's path, none if another program was faster.
fn migrate(connection: &mut Connection, path: &Path, from: i32) -> Result<Option<PathBuf>, Fault> {
    let refused = |error: rusqlite::Error| fault::of(path, &error);
    if let Err(fault) = defined(connection, path, from) {
        return match version(connection, path)? {
            Some(now) if now > from => Ok(None),
            _ => Err(fault),
        };
    }
    let copy = backup::free_name(path, &format!("version-{from}"));
    backup::copy(connection, &copy)?;
    let transaction = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(refused)?;
    // Another program may have been faster.
    if let Some(version) = version(&transaction, path)?
        && version < schema::VERSION
    {
        schema::migrate(&transaction, version).map_err(refused)?;
    }
    transaction.commit().map_err(refused)?;
    Ok(Some(copy))
}

/// The tables are those of a casebook: neither damage nor somebody else's triggers.
pub fn defined(connection: &Connection, path: &Path, version: i32) -> Result<(), Fault> {
    let own = schema::definitions(connection).map_err(|error| fault::of(path, &error))?;
    let expected = schema::expected(version).map_err(|error| fault::of(path, &error))?;
    match own == expected {
        true => Ok(()),
        false => Err(fault::corrupt(
            path,
            "its tables are not those of a casebook",
        )),
    }
}

/// SQLite's quick check over the whole file: what is damaged is told before anything is read or written.
fn sound(connection: &Connection, path: &Path) -> Result<(), Fault> {
    let said: String = connection
        .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
        .map_err(|error| fault::of(path, &error))?;
    match said.as_str() {
        "ok" => Ok(()),
        said => Err(fault::corrupt(path, said)),
    }
}
