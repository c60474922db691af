-- A shop's database as version 7 of the tables kept it, with rows in every table.
-- Written by that version and by hand; never to be edited. Everybody in it is
-- invented.
PRAGMA application_id = 0x42427579;
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE goose_db_version (
		id INTEGER PRIMARY KEY AUTOINCREMENT,
		version_id INTEGER NOT NULL,
		is_applied INTEGER NOT NULL,
		tstamp TIMESTAMP DEFAULT (datetime('now'))
	);
INSERT INTO goose_db_version VALUES(1,0,1,'2026-11-25 10:11:42');
INSERT INTO goose_db_version VALUES(2,1,1,'2026-11-25 10:11:42');
INSERT INTO goose_db_version VALUES(3,2,1,'2026-11-25 10:11:42');
INSERT INTO goose_db_version VALUES(4,3,1,'2026-11-25 10:11:42');
INSERT INTO goose_db_version VALUES(5,4,1,'2026-11-25 10:11:42');
INSERT INTO goose_db_version VALUES(6,5,1,'2026-11-25 10:11:42');
INSERT INTO goose_db_version VALUES(7,6,1,'2026-11-25 10:11:42');
INSERT INTO goose_db_version VALUES(8,7,1,'2026-11-25 10:11:42');
CREATE TABLE customers (
	id TEXT PRIMARY KEY,
	name TEXT NOT NULL,
	email TEXT NOT NULL DEFAULT '',
	phone TEXT NOT NULL DEFAULT '',
	address TEXT NOT NULL DEFAULT '',
	city TEXT NOT NULL DEFAULT '',
	region TEXT NOT NULL DEFAULT '',
	postal_code TEXT NOT NULL DEFAULT '',
	contact_by TEXT NOT NULL CHECK (contact_by IN ('email', 'phone', 'none')),
	-- What a search looks through: folded name, id and address, digits of the phone.
	search TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;
INSERT INTO customers VALUES('C1','Zoë Łukasz','zoe@example.org','555-0101','1 Cove Rd','Pine Landing','NY','12345','email',replace('zoe lukasz\nc1\nzoe@example.org\n5550101','\n',char(10)));
INSERT INTO customers VALUES('C2','Bram Teal','','(555) 0102','2 Cove Rd','Pine Landing','NY','12345','phone',replace('bram teal\nc2\n\n5550102','\n',char(10)));
INSERT INTO customers VALUES('C3','Ida Fen','ida@example.org','','','','','','email',replace('ida fen\nc3\nida@example.org\n','\n',char(10)));
CREATE TABLE boats (
	id TEXT PRIMARY KEY,
	hin TEXT NOT NULL DEFAULT '',
	name TEXT NOT NULL DEFAULT '',
	make TEXT NOT NULL DEFAULT '',
	model TEXT NOT NULL DEFAULT '',
	year INTEGER NOT NULL DEFAULT 0,
	kind TEXT NOT NULL,
	length_ft REAL NOT NULL DEFAULT 0,
	water TEXT NOT NULL,
	place TEXT NOT NULL,
	berth TEXT NOT NULL,
	sold_on TEXT CHECK (sold_on GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	warranty_until TEXT CHECK (warranty_until GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	gone TEXT CHECK (gone GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	search TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;
INSERT INTO boats VALUES('B1','QQX12345A919','Heron','Tarnmoor','Skiff 18',2019,'runabout',18.5,'fresh','Pine Cove','own-dock','2019-05-02','2020-05-01',NULL,replace('heron\nb1\nqqx12345a919\ntarnmoor skiff 18','\n',char(10)));
INSERT INTO boats VALUES('B2','','','Tarnmoor','Raft 22',2021,'pontoon',22.0,'fresh','Pine Cove','shop-inside','2021-06-10',NULL,NULL,replace('\nb2\n\ntarnmoor raft 22','\n',char(10)));
INSERT INTO boats VALUES('B3','QQX54321G818','Dunlin','Tarnmoor','Skiff 16',2018,'runabout',16.0,'fresh','Pine Cove','shop-outside','2024-04-20','2024-10-20',NULL,replace('dunlin\nb3\nqqx54321g818\ntarnmoor skiff 16','\n',char(10)));
CREATE TABLE ownerships (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	seq INTEGER NOT NULL,
	customer_id TEXT NOT NULL REFERENCES customers (id),
	from_day TEXT CHECK (from_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	to_day TEXT CHECK (to_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	PRIMARY KEY (boat_id, seq),
	CHECK (to_day IS NULL OR from_day IS NULL OR from_day <= to_day)
) STRICT, WITHOUT ROWID;
INSERT INTO ownerships VALUES('B1',0,'C1','2019-05-02',NULL);
INSERT INTO ownerships VALUES('B2',0,'C2','2021-06-10',NULL);
INSERT INTO ownerships VALUES('B3',0,'C2','2018-07-01','2024-04-20');
INSERT INTO ownerships VALUES('B3',1,'C3','2024-04-20',NULL);
CREATE TABLE components (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	id TEXT NOT NULL UNIQUE,
	kind TEXT NOT NULL,
	label TEXT NOT NULL DEFAULT '',
	in_service TEXT CHECK (in_service GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	expires TEXT CHECK (expires GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	made TEXT CHECK (made GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	propulsion TEXT NOT NULL DEFAULT '',
	stroke TEXT NOT NULL DEFAULT '',
	fuel TEXT NOT NULL DEFAULT '',
	cooling TEXT NOT NULL DEFAULT '',
	family TEXT NOT NULL DEFAULT '',
	extra TEXT NOT NULL DEFAULT '',
	duty INTEGER NOT NULL DEFAULT 100 CHECK (duty BETWEEN 1 AND 1000),
	PRIMARY KEY (boat_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO components VALUES('B1','E1','engine','Engine','2019-05-02',NULL,NULL,'outboard','four','gasoline','raw-water','TM60','',100);
INSERT INTO components VALUES('B1','T1','trailer','Trailer','2019-05-02',NULL,NULL,'','','','','','brakes=disc',100);
INSERT INTO components VALUES('B1','X1','extinguisher','Extinguisher',NULL,'2031-12-31','2019-01-01','','','','','','',100);
INSERT INTO components VALUES('B2','E2','engine','Engine','2021-06-10',NULL,NULL,'outboard','four','gasoline','raw-water','TM90','',50);
INSERT INTO components VALUES('B3','E3','engine','Engine','2018-07-01',NULL,NULL,'outboard','two','gasoline','raw-water','','',100);
CREATE TABLE records (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	id TEXT NOT NULL,
	component_id TEXT NOT NULL DEFAULT '',
	service TEXT NOT NULL,
	hours INTEGER CHECK (hours >= 0),
	amount INTEGER NOT NULL DEFAULT 0,
	done_by TEXT NOT NULL CHECK (done_by IN ('shop', 'elsewhere', 'before-sale')),
	note TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, day, id)
) STRICT, WITHOUT ROWID;
INSERT INTO records VALUES('B1','2024-04-12','fea90d15ce4d0e3f','E1','impeller',1880,24550,'shop',replace('two lines\nof note','\n',char(10)));
INSERT INTO records VALUES('B1','2026-10-03','5f906be360efab09','','lay-up',NULL,1500,'shop','second line of the same work');
INSERT INTO records VALUES('B1','2026-10-03','7826693b56d0b71f','E1','engine-oil',2810,12000,'shop','');
INSERT INTO records VALUES('B1','2026-10-03','cdb0241ab535472e','','lay-up',NULL,31000,'shop','');
INSERT INTO records VALUES('B2','2026-05-01','010aab9037e4b0b0','','fit-out',NULL,-1205,'shop',replace(replace('first line\r\nsecond, "quoted"\rthird\n=1+1   é','\r',char(13)),'\n',char(10)));
INSERT INTO records VALUES('B3','2024-04-10','e9c2e46138fe4659','E3','compression-test',4025,0,'before-sale','');
CREATE TABLE readings (
	boat_id TEXT NOT NULL,
	component_id TEXT NOT NULL,
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	new_meter INTEGER NOT NULL DEFAULT 0 CHECK (new_meter IN (0, 1)),
	hours INTEGER NOT NULL CHECK (hours >= 0),
	read_by TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, component_id, day, new_meter, hours),
	FOREIGN KEY (boat_id, component_id) REFERENCES components (boat_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO readings VALUES('B1','E1','2025-10-04',0,2360,'shop');
INSERT INTO readings VALUES('B1','E1','2026-10-03',0,2810,'shop');
INSERT INTO readings VALUES('B3','E3','2025-05-01',0,4025,'owner');
INSERT INTO readings VALUES('B3','E3','2025-06-01',1,0,'shop');
INSERT INTO readings VALUES('B3','E3','2025-09-01',0,315,'shop');
CREATE TABLE follow_ups (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	id TEXT NOT NULL,
	component_id TEXT NOT NULL DEFAULT '',
	service TEXT NOT NULL,
	title TEXT NOT NULL,
	due TEXT NOT NULL CHECK (due GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	raised TEXT CHECK (raised GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	finding TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO follow_ups VALUES('B1','F1','','impeller','Look again','2027-01-01',NULL,'');
CREATE TABLE overrides (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	component_id TEXT NOT NULL DEFAULT '',
	rule TEXT NOT NULL,
	months INTEGER NOT NULL DEFAULT 0 CHECK (months >= 0),
	hours INTEGER NOT NULL DEFAULT 0 CHECK (hours >= 0),
	skip INTEGER NOT NULL DEFAULT 0 CHECK (skip IN (0, 1)),
	by_customer INTEGER NOT NULL DEFAULT 0 CHECK (by_customer IN (0, 1)),
	source TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, component_id, rule)
) STRICT, WITHOUT ROWID;
INSERT INTO overrides VALUES('B1','','impeller',24,0,0,0,'');
CREATE TABLE bookings (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	visit_id TEXT NOT NULL UNIQUE,
	kind TEXT NOT NULL CHECK (kind IN ('lay-up', 'fit-out', 'extra')),
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	minute INTEGER NOT NULL DEFAULT -1 CHECK (minute BETWEEN -1 AND 1439),
	PRIMARY KEY (boat_id, visit_id)
) STRICT, WITHOUT ROWID;
INSERT INTO bookings VALUES('B1','V1','lay-up','2026-12-01',570);
CREATE TABLE audit (
	id INTEGER PRIMARY KEY,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	what TEXT NOT NULL,
	boat_id TEXT NOT NULL DEFAULT '',
	customer_id TEXT NOT NULL DEFAULT '',
	before TEXT,
	after TEXT
) STRICT;
INSERT INTO audit VALUES(1,1795608000,'test','intake','','',NULL,'[{"name":"customers.csv","rows":3,"new":3,"changed":0,"unchanged":0},{"name":"boats.csv","rows":4,"new":4,"changed":0,"unchanged":0},{"name":"components.csv","rows":5,"new":5,"changed":0,"unchanged":0},{"name":"history.csv","rows":5,"new":5,"changed":0,"unchanged":0},{"name":"readings.csv","rows":5,"new":5,"changed":0,"unchanged":0}]');
INSERT INTO audit VALUES(2,1795608000,'desk','record work','B2','',NULL,'{"ID":"010aab9037e4b0b0","BoatID":"B2","ComponentID":"","Day":"2026-05-01","Service":"fit-out","Hours":0,"HasHours":false,"Amount":-1205,"By":"shop","Note":"first line\r\nsecond, \"quoted\"\rthird\n=1+1 \u2028 é"}');
INSERT INTO audit VALUES(3,1795608000,'owner','switch sending','','','{"On":false,"HeldWhy":"","PausedWhy":"","Since":"0001-01-01T00:00:00Z"}','{"On":true,"HeldWhy":"","PausedWhy":"","Since":"2026-11-25T12:00:00Z"}');
INSERT INTO audit VALUES(4,1795608000,'desk','book','B1','',NULL,'{"VisitID":"V1","BoatID":"B1","Kind":"lay-up","Day":"2026-12-01","Minute":570}');
INSERT INTO audit VALUES(5,1795608000,'owner','save staff','','',NULL,'{"name":"Inge","role":"desk"}');
INSERT INTO audit VALUES(6,1795608000,'desk','revoke the customer feed','','C1',NULL,'2');
CREATE TABLE settings (
	key TEXT PRIMARY KEY,
	value BLOB NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO settings VALUES('key',X'00ff0a0d');
CREATE TABLE ticks (
	job TEXT NOT NULL,
	key TEXT NOT NULL,
	at INTEGER NOT NULL,
	PRIMARY KEY (job, key)
) STRICT, WITHOUT ROWID;
INSERT INTO ticks VALUES('remind','2026-11-25T12',1795000000);
CREATE TABLE dirty (
	boat_id TEXT PRIMARY KEY REFERENCES boats (id),
	version INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO dirty VALUES('B2',2);
INSERT INTO dirty VALUES('B3',1);
CREATE TABLE facts_version (
	one INTEGER PRIMARY KEY CHECK (one = 1),
	version INTEGER NOT NULL
) STRICT;
INSERT INTO facts_version VALUES(1,3);
CREATE TABLE plans (
	boat_id TEXT PRIMARY KEY REFERENCES boats (id),
	hash BLOB NOT NULL,
	planned_at INTEGER NOT NULL,
	problems TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;
INSERT INTO plans VALUES('B1',X'00',1795000000,'');
CREATE TABLE visits (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	id TEXT NOT NULL UNIQUE,
	kind TEXT NOT NULL CHECK (kind IN ('lay-up', 'fit-out', 'extra')),
	season INTEGER NOT NULL DEFAULT 0,
	open_day TEXT CHECK (open_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	close_day TEXT CHECK (close_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	day TEXT CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	deadline TEXT CHECK (deadline GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	labour INTEGER NOT NULL DEFAULT 0,
	price INTEGER NOT NULL DEFAULT 0,
	priority INTEGER NOT NULL DEFAULT 0,
	items TEXT NOT NULL DEFAULT '',
	-- Mondays: of the pencilled week, and of the week that a customer was told.
	week TEXT CHECK (week GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	told_week TEXT CHECK (told_week GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	-- The boat has not been in for long: the visit takes no hours until booked.
	lapsed INTEGER NOT NULL DEFAULT 0 CHECK (lapsed IN (0, 1)),
	-- After this day the visit makes no sense even late, NULL for never.
	last_day TEXT CHECK (last_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	PRIMARY KEY (boat_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO visits VALUES('B1','V1','lay-up',2026,NULL,NULL,'2026-10-01','2026-10-10',120,31000,0,'k1','2026-09-28',NULL,0,NULL);
INSERT INTO visits VALUES('B1','V2','fit-out',2027,NULL,NULL,'2027-05-01','2027-05-15',90,20000,0,'','2027-04-26',NULL,0,NULL);
CREATE TABLE due_items (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	key TEXT NOT NULL,
	component_id TEXT NOT NULL,
	rule TEXT NOT NULL,
	service TEXT NOT NULL,
	season INTEGER NOT NULL DEFAULT 0,
	due TEXT CHECK (due GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	open_day TEXT CHECK (open_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	close_day TEXT CHECK (close_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	basis TEXT NOT NULL,
	last_day TEXT CHECK (last_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	last_by TEXT NOT NULL DEFAULT '',
	last_via TEXT NOT NULL DEFAULT '',
	last_hours INTEGER,
	starts_from TEXT NOT NULL DEFAULT '',
	months INTEGER NOT NULL DEFAULT 0,
	hours INTEGER NOT NULL DEFAULT 0,
	by_date TEXT CHECK (by_date GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	by_hours TEXT CHECK (by_hours GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	hours_median TEXT CHECK (hours_median GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	hours_late TEXT CHECK (hours_late GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	hours_at INTEGER NOT NULL DEFAULT 0,
	duty INTEGER NOT NULL DEFAULT 0,
	overridden TEXT NOT NULL DEFAULT '',
	by_customer INTEGER NOT NULL DEFAULT 0,
	in_winter INTEGER NOT NULL DEFAULT 0,
	missed_last INTEGER NOT NULL DEFAULT 0,
	covered_by TEXT NOT NULL DEFAULT '',
	labour INTEGER NOT NULL DEFAULT 0,
	price INTEGER NOT NULL DEFAULT 0,
	visit_id TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, key)
) STRICT, WITHOUT ROWID;
INSERT INTO due_items VALUES('B1','k1','E1','impeller','impeller',0,'2027-04-12',NULL,NULL,'record',NULL,'','',NULL,'',0,0,NULL,NULL,NULL,NULL,0,0,'',0,0,0,'',0,0,'V1');
CREATE TABLE outbox (
	id INTEGER PRIMARY KEY,
	key TEXT NOT NULL UNIQUE,
	customer_id TEXT NOT NULL DEFAULT '',
	to_address TEXT NOT NULL,
	from_address TEXT NOT NULL,
	step TEXT NOT NULL,
	subjects TEXT NOT NULL DEFAULT '',
	message_id TEXT NOT NULL,
	subject TEXT NOT NULL DEFAULT '',
	raw BLOB NOT NULL,
	state TEXT NOT NULL CHECK (state IN ('queued', 'leased', 'sent', 'uncertain', 'deferred', 'refused', 'expired', 'held')),
	attempts INTEGER NOT NULL DEFAULT 0,
	-- How often it was leased; makes each lease's token a new one.
	claims INTEGER NOT NULL DEFAULT 0,
	next_at INTEGER NOT NULL,
	not_after INTEGER,
	queued_at INTEGER NOT NULL,
	lease_token TEXT,
	lease_until INTEGER,
	dot_at INTEGER,
	done_at INTEGER,
	code INTEGER NOT NULL DEFAULT 0,
	enhanced TEXT NOT NULL DEFAULT '',
	answer TEXT NOT NULL DEFAULT '',
	-- An uncertain letter keeps its token, in case the answer still comes.
	CHECK (state = 'uncertain' OR (state = 'leased') = (lease_token IS NOT NULL)),
	CHECK ((state = 'leased') = (lease_until IS NOT NULL))
) STRICT;
INSERT INTO outbox VALUES(1,'K1','C1','zoe@example.org','shop@example.org','invitation','V1','m1@example.org','Lay-up',X'46726f6d3a20780d0a0d0a5a6fc3ab00ff','queued',0,0,1795608000,NULL,1795608000,NULL,NULL,NULL,NULL,0,'','');
CREATE TABLE heard (
	customer_id TEXT NOT NULL REFERENCES customers (id),
	subject TEXT NOT NULL,
	step TEXT NOT NULL,
	on_day TEXT NOT NULL CHECK (on_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	week TEXT CHECK (week GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	PRIMARY KEY (customer_id, subject, step, on_day)
) STRICT, WITHOUT ROWID;
INSERT INTO heard VALUES('C1','V1','invitation','2026-11-25','2026-11-30');
CREATE TABLE suppressions (
	address TEXT PRIMARY KEY,
	reason TEXT NOT NULL,
	since INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO suppressions VALUES('old@example.org','550 no such user',1795000000);
CREATE TABLE opt_outs (
	customer_id TEXT PRIMARY KEY REFERENCES customers (id),
	no_reminders INTEGER NOT NULL CHECK (no_reminders IN (0, 1)),
	no_mail INTEGER NOT NULL CHECK (no_mail IN (0, 1)),
	since INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO opt_outs VALUES('C3',1,0,1795000000);
CREATE TABLE sending (
	one INTEGER PRIMARY KEY CHECK (one = 1),
	switched_on INTEGER NOT NULL DEFAULT 0 CHECK (switched_on IN (0, 1)),
	since INTEGER,
	held TEXT NOT NULL DEFAULT '',
	paused TEXT NOT NULL DEFAULT ''
) STRICT;
INSERT INTO sending VALUES(1,1,1795608000,'','');
CREATE TABLE feeds (
	scope TEXT NOT NULL CHECK (scope IN ('boat', 'customer', 'desk')),
	subject TEXT NOT NULL,
	generation INTEGER NOT NULL DEFAULT 1,
	changed_at INTEGER NOT NULL,
	PRIMARY KEY (scope, subject)
) STRICT, WITHOUT ROWID;
INSERT INTO feeds VALUES('customer','C1',2,1795608001);
INSERT INTO feeds VALUES('customer','C2',1,1795608000);
INSERT INTO feeds VALUES('customer','C3',1,1795608000);
CREATE TABLE feed_events (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	uid TEXT NOT NULL UNIQUE,
	hash TEXT NOT NULL,
	sequence INTEGER NOT NULL,
	changed_at INTEGER NOT NULL,
	start_day TEXT NOT NULL CHECK (start_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	live INTEGER NOT NULL CHECK (live IN (0, 1)),
	body BLOB NOT NULL,
	PRIMARY KEY (boat_id, uid)
) STRICT, WITHOUT ROWID;
INSERT INTO feed_events VALUES('B1','u1','h',0,1795000000,'2026-10-01',1,X'4245');
CREATE TABLE staff (
	name TEXT PRIMARY KEY COLLATE NOCASE,
	role TEXT NOT NULL CHECK (role IN ('technician', 'desk', 'owner')),
	-- Argon2id in its usual text form, with its own salt and cost.
	hash TEXT NOT NULL,
	since INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO staff VALUES('Inge','desk','$argon2id$secret',1795608000);
CREATE TABLE sessions (
	hash BLOB PRIMARY KEY,
	staff TEXT NOT NULL COLLATE NOCASE REFERENCES staff (name) ON DELETE CASCADE,
	begun INTEGER NOT NULL,
	until INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO sessions VALUES(X'01','Inge',1795000000,1795086400);
CREATE TABLE calls (
	id INTEGER PRIMARY KEY,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	customer_id TEXT NOT NULL REFERENCES customers (id),
	boat_id TEXT NOT NULL DEFAULT '',
	visit_id TEXT NOT NULL DEFAULT '',
	outcome TEXT NOT NULL CHECK (outcome IN ('no-answer', 'message', 'rings-back', 'thinks', 'declined', 'booked')),
	note TEXT NOT NULL DEFAULT ''
) STRICT;
INSERT INTO calls VALUES(1,1795000000,'desk','C2','B2','','message','');
CREATE TABLE said (
	id INTEGER PRIMARY KEY,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	boat_id TEXT NOT NULL REFERENCES boats (id),
	visit_id TEXT NOT NULL,
	words TEXT NOT NULL
) STRICT;
INSERT INTO said VALUES(1,1795000000,'desk','B1','V1','The bilge pump hums.');
CREATE TABLE pins (
	visit_id TEXT PRIMARY KEY,
	boat_id TEXT NOT NULL REFERENCES boats (id),
	week TEXT NOT NULL CHECK (week GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]')
) STRICT, WITHOUT ROWID;
INSERT INTO pins VALUES('V2','B1','2027-04-26');
CREATE TABLE absences (
	id INTEGER PRIMARY KEY,
	technician TEXT NOT NULL,
	from_day TEXT NOT NULL CHECK (from_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	to_day TEXT NOT NULL CHECK (to_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	why TEXT NOT NULL DEFAULT '',
	CHECK (from_day <= to_day)
) STRICT;
INSERT INTO absences VALUES(1,'Inge','2027-07-01','2027-07-14','');
CREATE TABLE closed_days (
	day TEXT PRIMARY KEY CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	why TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;
INSERT INTO closed_days VALUES('2027-07-05','');
CREATE TABLE measurements (
	id INTEGER PRIMARY KEY,
	boat_id TEXT NOT NULL REFERENCES boats (id),
	component_id TEXT NOT NULL,
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	kind TEXT NOT NULL CHECK (kind IN ('compression', 'gear-lube', 'battery')),
	figures TEXT NOT NULL DEFAULT '',
	rule TEXT NOT NULL DEFAULT '',
	words TEXT NOT NULL DEFAULT ''
) STRICT;
INSERT INTO measurements VALUES(1,'B1','E1','2026-10-03','compression','120 118','','');
CREATE TABLE place_climates (
	place TEXT PRIMARY KEY,
	percentile INTEGER NOT NULL CHECK (percentile BETWEEN 1 AND 99),
	-- MM-DD by which boats must be laid up; '' where it seldom freezes.
	lay_up TEXT NOT NULL CHECK (lay_up = '' OR lay_up GLOB '[0-1][0-9]-[0-3][0-9]'),
	-- Station, threshold, autumns used and left out, percentiles: JSON.
	freeze TEXT NOT NULL,
	file TEXT NOT NULL DEFAULT '',
	loaded_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO place_climates VALUES('Pine Cove',10,'10-10','{}','',1795000000);
CREATE TABLE answers (
	id INTEGER PRIMARY KEY,
	customer_id TEXT NOT NULL REFERENCES customers (id),
	-- '' where the answer is about the customer and not about a boat or a visit.
	boat_id TEXT NOT NULL DEFAULT '',
	visit_id TEXT NOT NULL DEFAULT '',
	kind TEXT NOT NULL CHECK (kind IN ('take', 'cancel', 'later', 'decline', 'call', 'elsewhere', 'hours', 'sold', 'mails')),
	at INTEGER NOT NULL,
	note TEXT NOT NULL DEFAULT '',
	until_day TEXT CHECK (until_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	-- JSON: what the answer changed and what was there before.
	changed TEXT NOT NULL DEFAULT '{}',
	undone_at INTEGER,
	-- When somebody of the shop saw to it, and who.
	seen_at INTEGER,
	seen_by TEXT NOT NULL DEFAULT ''
) STRICT;
INSERT INTO answers VALUES(1,'C1','','','call',1795000000,'after six',NULL,'{}',NULL,NULL,'');
CREATE TABLE week_load (
	week TEXT PRIMARY KEY, -- its Monday
	booked INTEGER NOT NULL DEFAULT 0,
	pencilled INTEGER NOT NULL DEFAULT 0
) STRICT, WITHOUT ROWID;
INSERT INTO week_load VALUES('2026-11-30',120,0);
INSERT INTO week_load VALUES('2027-04-26',0,90);
DELETE FROM sqlite_sequence;
INSERT INTO sqlite_sequence VALUES('goose_db_version',8);
CREATE INDEX customers_search ON customers (search);
CREATE INDEX customers_email ON customers (email COLLATE NOCASE) WHERE email <> '';
CREATE INDEX boats_search ON boats (search);
CREATE INDEX boats_hin ON boats (hin) WHERE hin <> '';
CREATE UNIQUE INDEX ownerships_one_current ON ownerships (boat_id) WHERE to_day IS NULL;
CREATE INDEX ownerships_customer ON ownerships (customer_id, to_day);
CREATE INDEX records_day ON records (day, boat_id);
CREATE INDEX bookings_day ON bookings (day);
CREATE INDEX audit_boat ON audit (boat_id, id) WHERE boat_id <> '';
CREATE INDEX audit_customer ON audit (customer_id, id) WHERE customer_id <> '';
CREATE INDEX visits_week ON visits (week, id) WHERE week IS NOT NULL;
CREATE INDEX visits_day ON visits (day, id);
CREATE INDEX due_items_due ON due_items (due, boat_id, key);
CREATE INDEX outbox_waiting ON outbox (next_at, id) WHERE state IN ('queued', 'deferred');
CREATE INDEX outbox_leased ON outbox (lease_until) WHERE state = 'leased';
CREATE INDEX outbox_state ON outbox (state, id);
CREATE INDEX outbox_customer ON outbox (customer_id, id);
CREATE INDEX outbox_queued ON outbox (queued_at);
CREATE INDEX outbox_dot ON outbox (dot_at) WHERE dot_at IS NOT NULL;
CREATE INDEX heard_subject ON heard (subject, on_day);
CREATE INDEX feed_events_start ON feed_events (start_day, uid) WHERE live = 1;
CREATE INDEX sessions_staff ON sessions (staff);
CREATE INDEX calls_customer ON calls (customer_id, id);
CREATE INDEX calls_boat ON calls (boat_id, id) WHERE boat_id <> '';
CREATE INDEX said_visit ON said (boat_id, visit_id, id);
CREATE INDEX measurements_boat ON measurements (boat_id, day);
CREATE INDEX visits_deadline ON visits (deadline, id);
CREATE INDEX visits_told ON visits (told_week, id) WHERE told_week IS NOT NULL;
CREATE INDEX answers_customer ON answers (customer_id, id);
CREATE INDEX answers_boat ON answers (boat_id, id) WHERE boat_id <> '';
CREATE INDEX answers_open ON answers (kind, id) WHERE undone_at IS NULL AND seen_at IS NULL;
CREATE TRIGGER week_load_visit_new AFTER INSERT ON visits BEGIN
	INSERT INTO week_load (week, booked)
		SELECT date(day, 'weekday 0', '-6 days'), new.labour FROM bookings WHERE visit_id = new.id
		ON CONFLICT (week) DO UPDATE SET booked = booked + excluded.booked;
	INSERT INTO week_load (week, pencilled)
		SELECT new.week, new.labour WHERE new.week IS NOT NULL AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = new.id)
		ON CONFLICT (week) DO UPDATE SET pencilled = pencilled + excluded.pencilled;
END;
CREATE TRIGGER week_load_visit_gone AFTER DELETE ON visits BEGIN
	UPDATE week_load SET booked = booked - old.labour
		WHERE week IN (SELECT date(day, 'weekday 0', '-6 days') FROM bookings WHERE visit_id = old.id);
	UPDATE week_load SET pencilled = pencilled - old.labour
		WHERE week = old.week AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = old.id);
END;
CREATE TRIGGER week_load_visit_changed AFTER UPDATE OF week, labour ON visits
WHEN new.week IS NOT old.week OR new.labour <> old.labour BEGIN
	UPDATE week_load SET booked = booked - old.labour + new.labour
		WHERE week IN (SELECT date(day, 'weekday 0', '-6 days') FROM bookings WHERE visit_id = new.id);
	UPDATE week_load SET pencilled = pencilled - old.labour
		WHERE week = old.week AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = new.id);
	INSERT INTO week_load (week, pencilled)
		SELECT new.week, new.labour WHERE new.week IS NOT NULL AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = new.id)
		ON CONFLICT (week) DO UPDATE SET pencilled = pencilled + excluded.pencilled;
END;
CREATE TRIGGER week_load_booked AFTER INSERT ON bookings BEGIN
	UPDATE week_load SET pencilled = pencilled - (SELECT labour FROM visits WHERE id = new.visit_id)
		WHERE week = (SELECT week FROM visits WHERE id = new.visit_id);
	INSERT INTO week_load (week, booked)
		SELECT date(new.day, 'weekday 0', '-6 days'), labour FROM visits WHERE id = new.visit_id
		ON CONFLICT (week) DO UPDATE SET booked = booked + excluded.booked;
END;
CREATE TRIGGER week_load_unbooked AFTER DELETE ON bookings BEGIN
	UPDATE week_load SET booked = booked - (SELECT labour FROM visits WHERE id = old.visit_id)
		WHERE week = date(old.day, 'weekday 0', '-6 days') AND EXISTS (SELECT 1 FROM visits WHERE id = old.visit_id);
	INSERT INTO week_load (week, pencilled)
		SELECT week, labour FROM visits WHERE id = old.visit_id AND week IS NOT NULL
		ON CONFLICT (week) DO UPDATE SET pencilled = pencilled + excluded.pencilled;
END;
CREATE TRIGGER week_load_rebooked AFTER UPDATE OF day, visit_id ON bookings BEGIN
	UPDATE week_load SET booked = booked - (SELECT labour FROM visits WHERE id = old.visit_id)
		WHERE week = date(old.day, 'weekday 0', '-6 days') AND EXISTS (SELECT 1 FROM visits WHERE id = old.visit_id);
	INSERT INTO week_load (week, booked)
		SELECT date(new.day, 'weekday 0', '-6 days'), labour FROM visits WHERE id = new.visit_id
		ON CONFLICT (week) DO UPDATE SET booked = booked + excluded.booked;
END;
COMMIT;
