PRAGMA application_id = 1416787819;

CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);

CREATE TABLE observer (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	units TEXT NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT uq_observer_name_key UNIQUE (name_key)
);

CREATE TABLE part (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	kind TEXT NOT NULL, 
	sort_key TEXT NOT NULL, 
	entered_by INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	length_mm FLOAT, 
	mass_kg FLOAT, 
	price_hundredths INTEGER, 
	currency TEXT, 
	created_at DATETIME NOT NULL, 
	changed_at DATETIME NOT NULL, 
	maker TEXT NOT NULL, 
	model TEXT NOT NULL, 
	words TEXT NOT NULL, 
	document TEXT NOT NULL, 
	CONSTRAINT ck_part_price CHECK ((price_hundredths IS NULL) = (currency IS NULL)), 
	CONSTRAINT ck_part_document_json CHECK (json_valid(document)), 
	CONSTRAINT ck_part_revision CHECK (revision >= 1), 
	CONSTRAINT fk_part_entered_by_observer FOREIGN KEY(entered_by) REFERENCES observer (id) ON DELETE RESTRICT
);

CREATE INDEX ix_part_entered_by ON part (entered_by);

CREATE INDEX ix_part_kind_sort_key_id ON part (kind, sort_key, id);

CREATE INDEX ix_part_sort_key_id ON part (sort_key, id);

CREATE TABLE rig (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	observer_id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	version INTEGER NOT NULL, 
	state_number INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	changed_at DATETIME NOT NULL, 
	CONSTRAINT ck_rig_version CHECK (version >= 1), 
	CONSTRAINT fk_rig_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE
);

CREATE INDEX ix_rig_observer_id ON rig (observer_id);

CREATE TABLE entry (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	rig_id INTEGER NOT NULL, 
	observer_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	document TEXT NOT NULL, 
	CONSTRAINT ck_entry_document_json CHECK (json_valid(document)), 
	CONSTRAINT fk_entry_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE RESTRICT, 
	CONSTRAINT fk_entry_rig_id_rig FOREIGN KEY(rig_id) REFERENCES rig (id) ON DELETE RESTRICT, 
	CONSTRAINT uq_entry_rig_id_number UNIQUE (rig_id, number)
);

CREATE INDEX ix_entry_observer_id ON entry (observer_id);

CREATE TABLE holding (
	observer_id INTEGER NOT NULL, 
	part_id INTEGER NOT NULL, 
	owned INTEGER NOT NULL, 
	wished INTEGER NOT NULL, 
	considered INTEGER NOT NULL, 
	CONSTRAINT pk_holding PRIMARY KEY (observer_id, part_id), 
	CONSTRAINT ck_holding_something CHECK (owned + wished + considered > 0), 
	CONSTRAINT ck_holding_not_negative CHECK (owned >= 0 AND wished >= 0 AND considered >= 0), 
	CONSTRAINT fk_holding_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE, 
	CONSTRAINT fk_holding_part_id_part FOREIGN KEY(part_id) REFERENCES part (id) ON DELETE CASCADE
);

CREATE INDEX ix_holding_part_id ON holding (part_id);

CREATE TABLE part_side (
	part_id INTEGER NOT NULL, 
	side TEXT NOT NULL, 
	size_key TEXT NOT NULL, 
	gender TEXT NOT NULL, 
	width_mm FLOAT, 
	CONSTRAINT pk_part_side PRIMARY KEY (part_id, side), 
	CONSTRAINT fk_part_side_part_id_part FOREIGN KEY(part_id) REFERENCES part (id) ON DELETE CASCADE
);

CREATE INDEX ix_part_side_size_key_gender_part_id ON part_side (size_key, gender, part_id);

CREATE INDEX ix_part_side_width_mm ON part_side (width_mm);

CREATE TABLE rig_state (
	rig_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	words TEXT NOT NULL, 
	parts INTEGER NOT NULL, 
	made_at DATETIME NOT NULL, 
	"plan" TEXT NOT NULL, 
	CONSTRAINT pk_rig_state PRIMARY KEY (rig_id, number), 
	CONSTRAINT ck_rig_state_plan_json CHECK (json_valid(plan)), 
	CONSTRAINT fk_rig_state_rig_id_rig FOREIGN KEY(rig_id) REFERENCES rig (id) ON DELETE CASCADE
);

CREATE TABLE rig_state_part (
	rig_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	part_id INTEGER NOT NULL, 
	CONSTRAINT pk_rig_state_part PRIMARY KEY (rig_id, number, part_id), 
	CONSTRAINT fk_rig_state_part_part_id_part FOREIGN KEY(part_id) REFERENCES part (id) ON DELETE RESTRICT, 
	CONSTRAINT fk_rig_state_part_rig_id_number_rig_state FOREIGN KEY(rig_id, number) REFERENCES rig_state (rig_id, number) ON DELETE CASCADE
);

CREATE INDEX ix_rig_state_part_part_id ON rig_state_part (part_id);

CREATE TABLE share (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	token TEXT NOT NULL, 
	entry_id INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	withdrawn_at DATETIME, 
	CONSTRAINT fk_share_entry_id_entry FOREIGN KEY(entry_id) REFERENCES entry (id) ON DELETE RESTRICT, 
	CONSTRAINT uq_share_token UNIQUE (token)
);

CREATE INDEX ix_share_entry_id ON share (entry_id);

CREATE VIRTUAL TABLE part_search USING fts5(
            words, kind, content='part', content_rowid='id', columnsize=0,
            tokenize='unicode61 remove_diacritics 2', prefix='1 2 3'
        );

CREATE TRIGGER part_search_put AFTER INSERT ON part BEGIN INSERT INTO part_search(rowid, words, kind) VALUES (new.id, new.words, new.kind); END;

CREATE TRIGGER part_search_take AFTER DELETE ON part BEGIN INSERT INTO part_search(part_search, rowid, words, kind) VALUES ('delete', old.id, old.words, old.kind); END;

CREATE TRIGGER part_search_change AFTER UPDATE ON part WHEN old.words <> new.words OR old.kind <> new.kind BEGIN INSERT INTO part_search(part_search, rowid, words, kind) VALUES ('delete', old.id, old.words, old.kind); INSERT INTO part_search(rowid, words, kind) VALUES (new.id, new.words, new.kind); END;

CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'a saved entry never changes'); END;

CREATE TRIGGER entry_no_replace BEFORE INSERT ON entry WHEN EXISTS (SELECT 1 FROM entry WHERE id = new.id OR (rig_id = new.rig_id AND number = new.number)) BEGIN SELECT RAISE(ABORT, 'a saved entry never changes'); END;

CREATE TABLE site (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	observer_id INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	sort_key TEXT NOT NULL, 
	document TEXT NOT NULL, 
	CONSTRAINT ck_site_document_json CHECK (json_valid(document)), 
	CONSTRAINT ck_site_revision CHECK (revision >= 1), 
	CONSTRAINT fk_site_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE
);

CREATE INDEX ix_site_observer_id ON site (observer_id);

CREATE TABLE target (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	observer_id INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	sort_key TEXT NOT NULL, 
	document TEXT, 
	CONSTRAINT ck_target_document_json CHECK (document IS NULL OR json_valid(document)), 
	CONSTRAINT ck_target_revision CHECK (revision >= 1), 
	CONSTRAINT fk_target_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE, 
	CONSTRAINT uq_target_observer_id_sort_key UNIQUE (observer_id, sort_key)
);

CREATE TABLE rig_site (
	rig_id INTEGER NOT NULL, 
	site_id INTEGER NOT NULL, 
	CONSTRAINT pk_rig_site PRIMARY KEY (rig_id), 
	CONSTRAINT fk_rig_site_rig_id_rig FOREIGN KEY(rig_id) REFERENCES rig (id) ON DELETE CASCADE, 
	CONSTRAINT fk_rig_site_site_id_site FOREIGN KEY(site_id) REFERENCES site (id) ON DELETE CASCADE
);

CREATE INDEX ix_rig_site_site_id ON rig_site (site_id);

CREATE TABLE needs (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	observer_id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	sort_key TEXT NOT NULL, 
	document TEXT NOT NULL, 
	CONSTRAINT ck_needs_document_json CHECK (json_valid(document)), 
	CONSTRAINT fk_needs_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE, 
	CONSTRAINT uq_needs_observer_id_sort_key UNIQUE (observer_id, sort_key)
);

CREATE TABLE measured (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	observer_id INTEGER NOT NULL, 
	rig_id INTEGER NOT NULL, 
	entry_id INTEGER, 
	name TEXT NOT NULL, 
	document TEXT NOT NULL, 
	CONSTRAINT ck_measured_document_json CHECK (json_valid(document)), 
	CONSTRAINT fk_measured_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE, 
	CONSTRAINT fk_measured_rig_id_rig FOREIGN KEY(rig_id) REFERENCES rig (id) ON DELETE CASCADE, 
	CONSTRAINT fk_measured_entry_id_entry FOREIGN KEY(entry_id) REFERENCES entry (id) ON DELETE RESTRICT
);

CREATE INDEX ix_measured_entry_id ON measured (entry_id);

CREATE INDEX ix_measured_rig_id ON measured (rig_id);

CREATE TABLE account (
	observer_id INTEGER NOT NULL, 
	login TEXT NOT NULL, 
	login_key TEXT NOT NULL, 
	role TEXT NOT NULL, 
	password_hash TEXT NOT NULL, 
	created_at BIGINT NOT NULL, 
	closed_at BIGINT, mail TEXT, mail_key TEXT, 
	CONSTRAINT pk_account PRIMARY KEY (observer_id), 
	CONSTRAINT ck_account_role CHECK (role IN ('member', 'steward')), 
	CONSTRAINT fk_account_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE, 
	CONSTRAINT uq_account_login_key UNIQUE (login_key)
);

CREATE TABLE account_session (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	observer_id INTEGER NOT NULL, 
	token_hash TEXT NOT NULL, 
	agent TEXT NOT NULL, 
	began_at BIGINT NOT NULL, 
	seen_at BIGINT NOT NULL, as_club BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT fk_account_session_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE, 
	CONSTRAINT uq_account_session_token_hash UNIQUE (token_hash)
);

CREATE TABLE account_link (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	purpose TEXT NOT NULL, 
	role TEXT NOT NULL, 
	observer_id INTEGER, 
	token_hash TEXT NOT NULL, 
	made_at BIGINT NOT NULL, 
	expires_at BIGINT NOT NULL, mail TEXT, 
	CONSTRAINT fk_account_link_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE, 
	CONSTRAINT uq_account_link_token_hash UNIQUE (token_hash)
);

CREATE TABLE account_asked (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	login TEXT NOT NULL, 
	words TEXT NOT NULL, 
	password_hash TEXT NOT NULL, 
	asked_at BIGINT NOT NULL
);

CREATE TABLE account_tries (
	"key" TEXT NOT NULL, 
	failed INTEGER NOT NULL, 
	last_at BIGINT NOT NULL, 
	until BIGINT NOT NULL, 
	CONSTRAINT pk_account_tries PRIMARY KEY ("key")
);

CREATE TABLE account_log (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	at BIGINT NOT NULL, 
	what TEXT NOT NULL, 
	by_id INTEGER, 
	about_id INTEGER, 
	CONSTRAINT fk_account_log_by_id_observer FOREIGN KEY(by_id) REFERENCES observer (id) ON DELETE SET NULL, 
	CONSTRAINT fk_account_log_about_id_observer FOREIGN KEY(about_id) REFERENCES observer (id) ON DELETE SET NULL
);

CREATE TABLE leaving (
	observer_id INTEGER NOT NULL, 
	CONSTRAINT pk_leaving PRIMARY KEY (observer_id), 
	CONSTRAINT fk_leaving_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE
);

CREATE INDEX ix_account_session_observer_id ON account_session (observer_id);

CREATE INDEX ix_account_link_observer_id ON account_link (observer_id);

CREATE INDEX ix_account_log_at ON account_log (at);

CREATE INDEX ix_account_log_by_id ON account_log (by_id);

CREATE INDEX ix_account_log_about_id ON account_log (about_id);

CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry WHEN NOT EXISTS (SELECT 1 FROM leaving WHERE observer_id = old.observer_id) BEGIN SELECT RAISE(ABORT, 'a saved entry never changes'); END;

CREATE TABLE club_entry (
	entry_id INTEGER NOT NULL, 
	listed_at BIGINT NOT NULL, 
	CONSTRAINT pk_club_entry PRIMARY KEY (entry_id), 
	CONSTRAINT fk_club_entry_entry_id_entry FOREIGN KEY(entry_id) REFERENCES entry (id) ON DELETE CASCADE
);

CREATE TABLE club (
	number INTEGER NOT NULL, 
	observer_id INTEGER NOT NULL, 
	CONSTRAINT pk_club PRIMARY KEY (number), 
	CONSTRAINT ck_club_one CHECK (number = 1), 
	CONSTRAINT fk_club_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE RESTRICT, 
	CONSTRAINT uq_club_observer_id UNIQUE (observer_id)
);

CREATE TABLE own_price (
	observer_id INTEGER NOT NULL, 
	part_id INTEGER NOT NULL, 
	price_hundredths BIGINT NOT NULL, 
	currency TEXT NOT NULL, 
	CONSTRAINT pk_own_price PRIMARY KEY (observer_id, part_id), 
	CONSTRAINT ck_own_price_not_negative CHECK (price_hundredths >= 0), 
	CONSTRAINT fk_own_price_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE, 
	CONSTRAINT fk_own_price_part_id_part FOREIGN KEY(part_id) REFERENCES part (id) ON DELETE CASCADE
);

CREATE INDEX ix_own_price_part_id ON own_price (part_id);

CREATE TABLE part_change (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	part_id INTEGER NOT NULL, 
	of_id INTEGER NOT NULL, 
	act TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	by_id INTEGER, 
	was TEXT NOT NULL, 
	became TEXT NOT NULL, 
	CONSTRAINT ck_part_change_was_json CHECK (json_valid(was)), 
	CONSTRAINT ck_part_change_became_json CHECK (json_valid(became)), 
	CONSTRAINT ck_part_change_act CHECK (act IN ('changed', 'merged')), 
	CONSTRAINT fk_part_change_part_id_part FOREIGN KEY(part_id) REFERENCES part (id) ON DELETE CASCADE, 
	CONSTRAINT fk_part_change_by_id_observer FOREIGN KEY(by_id) REFERENCES observer (id) ON DELETE SET NULL
);

CREATE INDEX ix_part_change_part_id ON part_change (part_id);

CREATE INDEX ix_part_change_of_id ON part_change (of_id);

CREATE INDEX ix_part_change_by_id ON part_change (by_id);

CREATE TABLE account_passkey (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	observer_id INTEGER NOT NULL, 
	credential TEXT NOT NULL, 
	public_key TEXT NOT NULL, 
	handle TEXT NOT NULL, 
	sign_count BIGINT NOT NULL, 
	name TEXT NOT NULL, 
	added_at BIGINT NOT NULL, 
	used_at BIGINT, 
	CONSTRAINT fk_account_passkey_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE, 
	CONSTRAINT uq_account_passkey_credential UNIQUE (credential)
);

CREATE TABLE account_challenge (
	token_hash TEXT NOT NULL, 
	challenge TEXT NOT NULL, 
	observer_id INTEGER, 
	expires_at BIGINT NOT NULL, 
	CONSTRAINT pk_account_challenge PRIMARY KEY (token_hash), 
	CONSTRAINT fk_account_challenge_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE
);

CREATE INDEX ix_account_passkey_observer_id ON account_passkey (observer_id);

CREATE INDEX ix_account_challenge_observer_id ON account_challenge (observer_id);

CREATE UNIQUE INDEX ix_account_mail_key ON account (mail_key);

CREATE TABLE noted_search (
	observer_id INTEGER NOT NULL, 
	"key" TEXT NOT NULL, 
	found TEXT NOT NULL, 
	seconds DOUBLE NOT NULL, 
	ended BOOLEAN NOT NULL, 
	stopped BOOLEAN NOT NULL, 
	noted_at DOUBLE NOT NULL, 
	seen_at DOUBLE NOT NULL, 
	CONSTRAINT pk_noted_search PRIMARY KEY (observer_id, "key"), 
	CONSTRAINT fk_noted_search_observer_id_observer FOREIGN KEY(observer_id) REFERENCES observer (id) ON DELETE CASCADE
);

INSERT INTO alembic_version VALUES ('0008')
