PRAGMA application_id = 1416784237;
PRAGMA user_version = 1;
PRAGMA journal_mode = WAL;
CREATE TABLE players (
    name TEXT PRIMARY KEY NOT NULL,
    hand TEXT NOT NULL CHECK (hand IN ('left', 'right')),
    toml TEXT NOT NULL,
    created_at TEXT NOT NULL
);
CREATE TABLE heads (
    name TEXT PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL,
    toml TEXT NOT NULL,
    created_at TEXT NOT NULL
);
CREATE TABLE builds (
    name TEXT PRIMARY KEY NOT NULL,
    player TEXT NOT NULL REFERENCES players (name),
    head TEXT NOT NULL REFERENCES heads (name),
    built_on TEXT NOT NULL,
    replaces TEXT REFERENCES builds (name),
    toml TEXT NOT NULL,
    created_at TEXT NOT NULL
);
CREATE INDEX builds_by_player ON builds (player, built_on);
CREATE TABLE sessions (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    build TEXT NOT NULL REFERENCES builds (name),
    date TEXT NOT NULL,
    meta TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    created_at TEXT NOT NULL,
    withdrawn_at TEXT
);
CREATE UNIQUE INDEX sessions_once ON sessions (build, sha256) WHERE withdrawn_at IS NULL;
CREATE TABLE shots (
    session INTEGER NOT NULL REFERENCES sessions (id),
    number INTEGER NOT NULL CHECK (number > 0),
    raw TEXT NOT NULL,
    note TEXT,
    ball_speed REAL,
    launch_angle REAL,
    launch_direction REAL,
    spin_rate REAL,
    spin_axis REAL,
    head_speed REAL,
    club_path REAL,
    face_angle REAL,
    attack_angle REAL,
    dynamic_loft REAL,
    strike_toe REAL,
    strike_up REAL,
    carry REAL,
    offline REAL,
    curve REAL,
    apex REAL,
    total REAL,
    PRIMARY KEY (session, number)
) WITHOUT ROWID;
