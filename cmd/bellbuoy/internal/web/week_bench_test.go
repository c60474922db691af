package web_test

import (
	"context"
	"database/sql"
	"encoding/json"
	"flag"
	"net/http"
	"slices"
	"testing"
	"time"

	"bellbuoy/schedule/civil"
)

// The size of the fleet at which the week's page must stay fast.
var benchBoats = flag.Int("fleet", 100_000, "boats in the fleet that benchmarks measure")

// fillFleet writes a fleet with two visits of six jobs a boat straight into the
// shop's file: the planner has benchmarks of its own. Deadlines run from two
// months ago to a year ahead; one visit in forty is booked, one in ten told, one
// customer in twelve has no mail address. No statistics are made of it (ANALYZE), as of
// no shop's file: with them SQLite reads in other ways.
func fillFleet(b *testing.B, s *testShop, boats int) {
	b.Helper()
	db, err := sql.Open("sqlite", "file:"+s.app.DB.Path()+"?_pragma=busy_timeout(60000)&_pragma=synchronous(OFF)")
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	const n = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < ?1) "
	const day = "date(?2, (((i * 37 + k * 180) % 425) - 60) || ' days')"
	const monday = "date(" + day + ", 'weekday 0', '-6 days')"
	today := s.today().String()
	for _, q := range []string{
		n + `INSERT INTO customers (id, name, email, phone, contact_by, search) SELECT 'C' || i, 'Customer ' || i,
			iif(i % 12 = 0, '', 'c' || i || '@example.com'), '555-' || i, 'email', 'customer ' || i FROM n`,
		n + `INSERT INTO boats (id, name, kind, water, place, berth, search) SELECT 'B' || i, 'Boat ' || i, 'runabout', 'fresh', 'Lindrake Cove',
			'own-dock', 'boat ' || i FROM n`,
		n + `INSERT INTO ownerships (boat_id, seq, customer_id) SELECT 'B' || i, 0, 'C' || i FROM n`,
		n + `INSERT INTO components (boat_id, id, kind, label) SELECT 'B' || i, 'B' || i || '-E1', 'engine', 'Engine' FROM n`,
		n + `, v(k) AS (VALUES (0), (1)) INSERT INTO visits (boat_id, id, kind, open_day, close_day, day, deadline, labour, price, items, week, told_week)
			SELECT 'B' || i, 'B' || i || '.v' || k, iif(k = 0, 'lay-up', 'fit-out'), ` + day + `, ` + day + `, ` + day + `, ` + day + `, 180, 40000, '',
			` + monday + `, iif(i % 10 = 0, ` + monday + `, NULL) FROM n, v`,
		n + `, v(k) AS (VALUES (0), (1)), j(m) AS (VALUES (1), (2), (3), (4), (5), (6))
			INSERT INTO due_items (boat_id, key, component_id, rule, service, due, basis, labour, price, visit_id)
			SELECT 'B' || i, 'B' || i || '-E1/r' || m || '@' || k, 'B' || i || '-E1', 'impeller', 'impeller', ` + day + `, 'date', 30, 6000, 'B' || i || '.v' || k FROM n, v, j`,
		n + `, v(k) AS (VALUES (0)) INSERT INTO bookings (boat_id, visit_id, kind, day) SELECT 'B' || i, 'B' || i || '.v0', 'lay-up', ` + day + ` FROM n, v WHERE i % 40 = 0`,
	} {
		if _, err := db.ExecContext(b.Context(), q, boats, today); err != nil {
			b.Fatalf("%.60q: %v", q, err)
		}
	}
}

// bareWeek runs only the SQL that the page needs: the first three hundred
// visits of each of the seven parts, the boats, owners and bookings of the first
// eight, and their jobs. Nothing is made of the cells.
func bareWeek(ctx context.Context, db *sql.DB, week civil.Week) error {
	const open = " AND NOT EXISTS (SELECT 1 FROM bookings n WHERE n.visit_id = v.id)"
	first := []string{}
	for _, q := range []string{
		"SELECT v.deadline AS at, v.id FROM visits v WHERE v.deadline < ?1" + open + " ORDER BY 1 DESC, 2 DESC",
		"SELECT k.day AS at, v.id FROM bookings k JOIN visits v ON v.id = k.visit_id WHERE k.day < ?1 ORDER BY 1, 2",
		"SELECT k.day AS at, v.id FROM bookings k JOIN visits v ON v.id = k.visit_id WHERE k.day BETWEEN ?1 AND ?2 ORDER BY 1, 2",
		"SELECT v.deadline AS at, v.id FROM visits v WHERE v.week = ?1 AND v.deadline >= ?1" + open + " ORDER BY 1, 2",
		`SELECT v.deadline AS at, v.id FROM (SELECT DISTINCT visit_id FROM due_items WHERE due BETWEEN ?1 AND ?2 AND basis <> 'unknown' AND visit_id <> '') i
			JOIN visits v ON v.id = i.visit_id WHERE v.week IS NOT ?1 AND v.deadline >= ?1` + open + " ORDER BY 1, 2",
		"SELECT v.told_week AS at, v.id FROM visits v WHERE v.told_week >= ?1 AND v.told_week = v.week" + open + " ORDER BY 1, 2",
		`SELECT v.week AS at, v.id FROM visits v JOIN ownerships o ON o.boat_id = v.boat_id AND o.to_day IS NULL JOIN customers c ON c.id = o.customer_id
			LEFT JOIN suppressions s ON s.address = lower(c.email) LEFT JOIN opt_outs t ON t.customer_id = c.id
			WHERE v.week <= ?3 AND (c.contact_by <> 'email' OR c.email = '' OR s.address IS NOT NULL OR t.no_mail = 1 OR t.no_reminders = 1)` + open + " ORDER BY 1, 2",
	} {
		ids, err := seconds(ctx, db, q+" LIMIT 300", week.Monday().String(), week.Sunday().String(), (week + 6).Monday().String())
		if err != nil {
			return err
		}
		first = append(first, ids[:min(len(ids), 8)]...)
	}
	list, err := json.Marshal(first)
	if err != nil {
		return err
	}
	if _, err := seconds(ctx, db, `SELECT v.*, b.*, c.*, k.* FROM json_each(?) j JOIN visits v ON v.id = j.value JOIN boats b ON b.id = v.boat_id
		LEFT JOIN ownerships o ON o.boat_id = b.id AND o.to_day IS NULL LEFT JOIN customers c ON c.id = o.customer_id
		LEFT JOIN bookings k ON k.visit_id = v.id`, string(list)); err != nil {
		return err
	}
	_, err = seconds(ctx, db, `SELECT i.visit_id, i.rule, i.due, i.covered_by, p.label FROM json_each(?) j JOIN visits v ON v.id = j.value
		JOIN due_items i ON i.boat_id = v.boat_id LEFT JOIN components p ON p.boat_id = i.boat_id AND p.id = i.component_id`, string(list))
	return err
}

// seconds reads a result to its end and returns its second column.
func seconds(ctx context.Context, db *sql.DB, query string, args ...any) ([]string, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	cells, into := make([]any, len(names)), make([]any, len(names))
	for i := range cells {
		into[i] = &cells[i]
	}
	var out []string
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return nil, err
		}
		s, _ := cells[1].(string)
		out = append(out, s)
	}
	return out, rows.Err()
}

// BenchmarkWeek asks for this week's page and runs the bare SQL in turns, and
// reports how many times the bare SQL the page takes, and the page's 99th
// percentile.
func BenchmarkWeek(b *testing.B) {
	s := emptyTestShop(b, shopSettings)
	fillFleet(b, s, *benchBoats)
	cookie := s.hire("Inge", "desk")
	db, err := sql.Open("sqlite", "file:"+s.app.DB.Path()+"?mode=ro")
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	week := s.today().Week()
	var page, bare []time.Duration
	for b.Loop() {
		begun := time.Now()
		if a := s.as(cookie, "GET", "/", nil); a.Code != http.StatusOK || a.Body.Len() > mostBytes {
			b.Fatalf("answered %d with %d bytes", a.Code, a.Body.Len())
		}
		page = append(page, time.Since(begun))
		begun = time.Now()
		if err := bareWeek(b.Context(), db, week); err != nil {
			b.Fatal(err)
		}
		bare = append(bare, time.Since(begun))
	}
	slices.Sort(page)
	slices.Sort(bare)
	mid := func(d []time.Duration) float64 { return d[len(d)/2].Seconds() * 1000 }
	b.ReportMetric(mid(page), "ms/page")
	b.ReportMetric(mid(bare), "ms/bare-SQL")
	b.ReportMetric(mid(page)/mid(bare), "x-bare-SQL")
	b.ReportMetric(page[len(page)*99/100].Seconds()*1000, "ms-p99")
}
