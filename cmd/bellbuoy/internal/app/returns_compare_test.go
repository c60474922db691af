package app_test

import (
	"database/sql"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/storetest"
)

// TestTheSeasonBesideTheLastIsRecounted counts the owner's comparison again by SQL that
// shares nothing with it: visits, money, averages, no-shows, lines of work, by
// technician, kind, make and place, of both seasons to the same day.
func TestTheSeasonBesideTheLastIsRecounted(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 80, 4, 5)
	now := today.At(10, 0, a.Config.Zone())
	db, err := sql.Open("sqlite", "file:"+a.DB.Path()+"?_pragma=busy_timeout(60000)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	// Every third day of paid work was a booked visit that somebody had been given.
	must(t, db, `INSERT INTO bookings (boat_id, visit_id, kind, day) SELECT boat_id, 'v' || boat_id || day, 'extra', day FROM records
		WHERE done_by = 'shop' AND amount > 0 GROUP BY boat_id, day HAVING CAST(substr(boat_id, 2) AS INTEGER) % 3 = 0`)
	must(t, db, `INSERT INTO stages (visit_id, boat_id, stage, since, technician) SELECT visit_id, boat_id, 'picked-up', 0,
		iif(CAST(substr(boat_id, 2) AS INTEGER) % 2 = 0, 'Ruth', 'Tomasz') FROM bookings WHERE visit_id LIKE 'vB%'`)
	missed := 0
	visits := plannedVisits(t, db)
	for _, v := range visits[:4] {
		b := schedule.Booking{BoatID: v[0], VisitID: v[1], Kind: v[2], Day: today - civil.Day(8+missed), Minute: -1}
		if err := storetest.Writer(t, a.DB).Book(t.Context(), now, "desk", b, nil, nil); err != nil {
			t.Fatal(err)
		}
		missed++
	}
	if n, err := storetest.Writer(t, a.DB).ReleaseMissed(t.Context(), now, "bellbuoy", today-3); err != nil || n != missed {
		t.Fatalf("released %d, %v", n, err)
	}

	c, err := ledger(t, a, today).Comparison(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, season := range []struct {
		name              string
		from, to          string
		visits            figures.Figure
		repeat, other     figures.Figure
		noShows, hours    figures.Figure
		pick              func(figures.Pair) figures.Figure
		least, leastSplit int
	}{
		{"this season", "2026-08-01", "2026-10-21", c.Visits.Now, c.Repeat.Now, c.Other.Now, c.NoShows.Now, c.Hours.Now, func(p figures.Pair) figures.Figure { return p.Now }, 20, 2},
		{"the last", "2025-08-01", "2025-10-21", c.Visits.Before, c.Repeat.Before, c.Other.Before, c.NoShows.Before, c.Hours.Before, func(p figures.Pair) figures.Figure { return p.Before }, 20, 2},
	} {
		const days = "SELECT boat_id, day, sum(amount) AS paid FROM records WHERE done_by = 'shop' AND amount > 0 AND day BETWEEN ?1 AND ?2 GROUP BY boat_id, day"
		count := func(query string) (n int, cents int64) {
			if err := db.QueryRow(query, season.from, season.to).Scan(&n, &cents); err != nil {
				t.Fatalf("%s: %v", query, err)
			}
			return n, cents
		}
		same := func(what string, f figures.Figure, n int, cents int64) {
			if f.Count != n || int64(f.Cents) != cents {
				t.Errorf("%s, %s: %d, %d cents; recounted %d, %d", season.name, what, f.Count, f.Cents, n, cents)
			}
		}
		n, cents := count("SELECT count(*), sum(paid) FROM (" + days + ")")
		same("visits", season.visits, n, cents)
		if n < season.least {
			t.Errorf("%s: only %d visits", season.name, n)
		}
		if got := season.repeat.Cents + season.other.Cents; int64(got) != cents {
			t.Errorf("%s: repeat and other work are %d together, want %d", season.name, got, cents)
		}
		if got := season.visits.Average(); int64(got) != cents/int64(n) {
			t.Errorf("%s: %d a visit, want %d", season.name, got, cents/int64(n))
		}
		n, _ = count("SELECT count(*), 0 FROM audit WHERE actor = 'bellbuoy' AND what = 'cancel a booking' AND json_extract(before, '$.Day') BETWEEN ?1 AND ?2")
		same("no-shows", season.noShows, n, 0)
		n, _ = count("SELECT count(*), 0 FROM records WHERE done_by = 'shop' AND day BETWEEN ?1 AND ?2")
		same("lines of work", season.hours, n, 0)
		for _, split := range c.Splits {
			column := map[string]string{"kind": "b.kind", "make": "b.make", "place": "b.place", "technician": `coalesce((SELECT s.technician FROM stages s
				JOIN bookings k ON k.visit_id = s.visit_id WHERE k.boat_id = d.boat_id AND k.day <= d.day AND d.day <= date(k.day, '+30 days') ORDER BY k.day DESC LIMIT 1), '')`}[split.By]
			for _, row := range split.Rows {
				n, cents := 0, int64(0)
				q := "SELECT count(*), coalesce(sum(paid), 0) FROM (" + days + ") d JOIN boats b ON b.id = d.boat_id WHERE " + column + " = ?3"
				if err := db.QueryRow(q, season.from, season.to, row.Name).Scan(&n, &cents); err != nil {
					t.Fatal(err)
				}
				same(split.By+" "+row.Name, season.pick(row.Pair), n, cents)
			}
			if len(split.Rows) < season.leastSplit {
				t.Errorf("%s: %d rows by %s", season.name, len(split.Rows), split.By)
			}
		}
	}
	if c.NoShows.Now.Count != missed || c.NoShows.Before.Count != 0 {
		t.Errorf("%d and %d did not come, want %d and none", c.NoShows.Now.Count, c.NoShows.Before.Count, missed)
	}
	// Three technicians of 8 h on 58 weekdays but 7 September and 12 October, holidays.
	if want := int(56 * 3 * 8 * 60 * a.Config.Weeks.Allowance); c.Available[0] != want {
		t.Errorf("%d minutes were there, want about %d", c.Available[0], want)
	}
}

func must(t *testing.T, db *sql.DB, query string) {
	t.Helper()
	if _, err := db.ExecContext(t.Context(), query); err != nil {
		t.Fatalf("%.60s: %v", query, err)
	}
}

// plannedVisits are boats, visits and kinds, one a boat.
func plannedVisits(t *testing.T, db *sql.DB) (out [][3]string) {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), "SELECT boat_id, min(id), kind FROM visits GROUP BY boat_id ORDER BY boat_id")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var v [3]string
		if err := rows.Scan(&v[0], &v[1], &v[2]); err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// TestTheListsAreRecounted counts the owner's newer lists again by SQL that shares
// nothing with them: boats sold, a past forecast and what came of it, chances given,
// customers reminded, and the hours sold of this season by the catalog's times.
func TestTheListsAreRecounted(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 80, 4, 5)
	db, err := sql.Open("sqlite", "file:"+a.DB.Path()+"?_pragma=busy_timeout(60000)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1) // the temporary tables are of one connection
	must(t, db, `INSERT INTO heard (customer_id, subject, step, on_day, letter_id) SELECT customer_id, boat_id || '.x.' || day, 'first-reminder', day, 1
		FROM ownerships, (SELECT '2025-10-20' AS day UNION SELECT '2025-10-22' UNION SELECT '2026-09-01') WHERE to_day IS NULL AND CAST(substr(boat_id, 2) AS INTEGER) % 3 > 0`)
	must(t, db, "CREATE TEMP TABLE times (service TEXT PRIMARY KEY, minutes INTEGER)")
	must(t, db, "CREATE TEMP TABLE covers (service TEXT, covered TEXT)")
	for _, r := range a.Planner.Catalogue().Rules {
		res, err := db.Exec("INSERT OR IGNORE INTO times VALUES (?, ?)", r.Service, r.Labour)
		if err != nil {
			t.Fatal(err)
		}
		if n, _ := res.RowsAffected(); n == 0 {
			continue // a service's first rule says
		}
		for _, c := range r.Covers {
			if _, err := db.Exec("INSERT INTO covers VALUES (?, ?)", r.Service, c); err != nil {
				t.Fatal(err)
			}
		}
	}
	// Who had a boat on a day, from the day to before the end; gone boats are nobody's.
	const held = `SELECT o.boat_id, coalesce(o.from_day, '') AS since, min(coalesce(o.to_day, '9999'), coalesce(b.gone, '9999')) AS until,
		iif(o.from_day <= b.sold_on, o.from_day, '') AS sold FROM ownerships o JOIN boats b ON b.id = o.boat_id`
	const paid = "SELECT boat_id, day, amount FROM records WHERE done_by = 'shop' AND amount > 0"
	l := ledger(t, a, today)
	on := theDay(t, "2025-08-01")
	for _, c := range []struct {
		what   string
		list   figures.Query
		column int // the money column that is compared, -1 for the rows or minutes
		query  string
	}{
		{"boats sold in 2025", figures.Query{List: figures.ListSold, Year: 2025}, -1, "SELECT count(*) FROM (" + held + ") WHERE sold BETWEEN '2025-01-01' AND '2025-12-31'"},
		{"what those sold in 2025 paid", figures.Query{List: figures.ListSold, Year: 2025}, 6,
			"SELECT sum(amount) FROM (" + held + ") h JOIN (" + paid + ") p ON p.boat_id = h.boat_id AND p.day > h.sold AND p.day < h.until AND p.day <= '" + figuresDay + "' WHERE sold BETWEEN '2025-01-01' AND '2025-12-31'"},
		{"the forecast of August 2025", figures.Query{List: figures.ListForecast, From: on}, 3,
			"SELECT sum(CAST(round(list * chance) AS INTEGER)) FROM outlooks WHERE asked_on = '2025-08-01' AND day < '2026-08-01'"},
		{"what came of it", figures.Query{List: figures.ListForecast, From: on}, 4,
			"SELECT sum(amount) FROM (" + held + ") h JOIN (" + paid + ") p ON p.boat_id = h.boat_id AND p.day >= '2025-08-01' AND p.day < '2026-08-01' AND p.day > h.sold AND p.day < h.until WHERE since <= '2025-08-01' AND until > '2025-08-01'"},
		{"chances of 60 to 80% that returned", figures.Query{List: figures.ListChances, Chance: "60", Came: "yes"}, -1, `SELECT count(*) FROM outlooks o JOIN (` + held + `) h ON h.boat_id = o.boat_id
			AND h.since <= o.asked_on AND h.until > o.asked_on WHERE chance >= 0.6 AND chance < 0.8 AND o.asked_on < '2026-08-01' AND o.asked_on > (SELECT min(asked_on) FROM outlooks)
			AND o.kind = iif(substr(o.asked_on, 6, 2) = '02', 'fit-out', 'lay-up') AND o.season = CAST(substr(o.asked_on, 1, 4) AS INTEGER)
			AND EXISTS (SELECT 1 FROM (` + paid + `) p WHERE p.boat_id = o.boat_id AND p.day >= o.asked_on AND p.day < date(o.asked_on, '+6 months') AND p.day > h.sold AND p.day < h.until)`},
		{"customers reminded", figures.Query{List: figures.ListReminded}, -1, "SELECT count(DISTINCT customer_id) FROM heard WHERE on_day BETWEEN '2025-10-21' AND '" + figuresDay + "'"},
		{"minutes sold this season", figures.Query{List: figures.ListHours, From: theDay(t, "2026-08-01"), To: today}, -1,
			`SELECT sum(coalesce(m.minutes, 0)) FROM records r LEFT JOIN times m ON m.service = r.service WHERE r.done_by = 'shop' AND r.day BETWEEN '2026-08-01' AND '` + figuresDay + `'
			AND NOT EXISTS (SELECT 1 FROM records q JOIN covers c ON c.service = q.service WHERE q.boat_id = r.boat_id AND q.day = r.day AND q.done_by = 'shop' AND c.covered = r.service)`},
	} {
		list, err := l.List(t.Context(), c.list)
		if err != nil {
			t.Fatal(err)
		}
		got := int64(len(list.Rows))
		switch {
		case c.column >= 0:
			got = int64(list.Sums[c.column])
		case list.Minutes > 0:
			got = int64(list.Minutes)
		}
		var want int64
		if err := db.QueryRow(c.query).Scan(&want); err != nil {
			t.Fatalf("%s: %v", c.what, err)
		}
		if got != want || want == 0 {
			t.Errorf("%s: %d, recounted %d", c.what, got, want)
		}
	}
}
