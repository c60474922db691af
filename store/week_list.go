package store

import (
	"context"
	"database/sql"
	"encoding/json"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// WeekPart is a part of the desk's week.
type WeekPart string

// The parts of the desk's week.
const (
	WeekOverdue     WeekPart = "overdue"     // past the deadline, not booked; the latest missed comes first
	WeekUnrecorded  WeekPart = "unrecorded"  // booked for a day before the week, and nothing written down
	WeekBooked      WeekPart = "booked"      // comes in on a fixed day of the week
	WeekPencilled   WeekPart = "pencilled"   // meant for the week, nobody has confirmed it
	WeekDue         WeekPart = "due"         // something falls due in the week, the visit is planned for another
	WeekWaiting     WeekPart = "waiting"     // told to the customer for this week or later, no answer yet
	WeekUnreachable WeekPart = "unreachable" // to be told by now, and mail does not reach the owner
)

// WeekParts are all parts in reading order.
func WeekParts() []WeekPart {
	return []WeekPart{WeekOverdue, WeekUnrecorded, WeekBooked, WeekPencilled, WeekDue, WeekWaiting, WeekUnreachable}
}

// WeekQuery asks for one part of a week. After is the [WeekRow.Key] of the last
// row seen.
type WeekQuery struct {
	Part  WeekPart
	Week  civil.Week
	Kind  string // only visits of this kind, "" for all
	Ahead int    // weeks by which the customer must have heard, for [WeekUnreachable]
	After string
	Limit int // 0 means 100
}

// WeekRow is a visit with what the desk needs beside it.
type WeekRow struct {
	Key    string
	Visit  schedule.Visit
	Boat   schedule.Boat
	Owner  schedule.Customer // without an id if the shop has the boat
	NoMail string            // why mail does not reach the owner, "" if it does
	Pinned bool              // the desk chose the week itself
	Jobs   []WeekJob         // in order of due day
}

// WeekJob is one due item of a visit, by its name only.
type WeekJob struct {
	Rule    string
	Title   string // of a follow-up; other titles stand in the catalogue
	Label   string // of the component, where the boat has several of its kind
	Due     civil.Day
	Covered bool // part of another job of the visit
}

const (
	notBooked = " AND NOT EXISTS (SELECT 1 FROM bookings n WHERE n.visit_id = v.id)"
	ofKind    = " AND (?6 = '' OR v.kind = ?6)"
)

// noMail says in a word why mail does not reach customer c, NULL if it does.
const noMail = `CASE WHEN c.id IS NULL THEN 'no owner on file' WHEN c.contact_by = 'phone' THEN 'wants to be rung'
	WHEN c.contact_by = 'none' THEN 'wants no reminders' WHEN c.email = '' THEN 'no mail address'
	WHEN s.address IS NOT NULL THEN 'mail comes back: ' || s.reason WHEN t.no_mail = 1 OR t.no_reminders = 1 THEN 'stopped the mails' END`

// reach joins what noMail looks at.
const reach = ` LEFT JOIN suppressions s ON s.address = lower(c.email) LEFT JOIN opt_outs t ON t.customer_id = c.id`

// weekPart selects the ids of one part with the day that they are ordered by.
// ?1 and ?2 are the week's first and last day, ?3 and ?4 the last row's day and
// id, ?5 the limit, ?6 the kind, ?7 the last week ahead.
func weekPart(p WeekPart) string {
	const after = " AND (v.deadline, v.id) > (?3, ?4)"
	switch p {
	case WeekOverdue:
		return "SELECT v.deadline AS at, v.id FROM visits v WHERE v.deadline < ?1 AND (?3 = '' OR (v.deadline, v.id) < (?3, ?4))" + ofKind + notBooked
	case WeekUnrecorded:
		return "SELECT k.day AS at, v.id FROM bookings k JOIN visits v ON v.id = k.visit_id WHERE k.day < ?1 AND (k.day, v.id) > (?3, ?4)" + ofKind
	case WeekBooked:
		return "SELECT k.day AS at, v.id FROM bookings k JOIN visits v ON v.id = k.visit_id WHERE k.day BETWEEN ?1 AND ?2 AND (k.day, v.id) > (?3, ?4)" + ofKind
	case WeekPencilled:
		return "SELECT v.deadline AS at, v.id FROM visits v WHERE v.week = ?1 AND v.deadline >= ?1" + after + ofKind + notBooked
	case WeekDue:
		return `SELECT v.deadline AS at, v.id FROM (SELECT DISTINCT visit_id FROM due_items WHERE due BETWEEN ?1 AND ?2 AND basis <> 'unknown' AND visit_id <> '') i
			JOIN visits v ON v.id = i.visit_id WHERE v.week IS NOT ?1 AND v.deadline >= ?1` + after + ofKind + notBooked
	case WeekWaiting:
		return "SELECT v.told_week AS at, v.id FROM visits v WHERE v.told_week >= ?1 AND v.told_week = v.week AND (v.told_week, v.id) > (?3, ?4)" + ofKind + notBooked
	}
	return `SELECT v.week AS at, v.id FROM visits v LEFT JOIN ownerships o ON o.boat_id = v.boat_id AND o.to_day IS NULL
		LEFT JOIN customers c ON c.id = o.customer_id` + reach + " WHERE v.week <= ?7 AND (v.week, v.id) > (?3, ?4)" + ofKind + notBooked +
		" AND " + noMail + " IS NOT NULL"
}

// order is the order of a part: what was missed lately can still be saved, so
// of what is overdue the latest comes first.
func (p WeekPart) order(at, id string) string {
	down := ""
	if p == WeekOverdue {
		down = " DESC"
	}
	return " ORDER BY " + at + down + ", " + id + down
}

func (q WeekQuery) args(limit int) []any {
	day, id, _ := splitKey(q.After)
	return []any{q.Week.Monday().String(), q.Week.Sunday().String(), day, id, limit, q.Kind, (q.Week + civil.Week(q.Ahead)).Monday().String()}
}

// WeekList returns a page of one part of a week.
func (db *DB) WeekList(ctx context.Context, q WeekQuery) (rows []WeekRow, err error) {
	err = db.snapshot(ctx, func(tx *sql.Tx) error {
		rows, err = collect(ctx, tx, readWeekRow, "SELECT f.at, "+column("v", visitColumns)+", "+column("b", boatColumns)+", "+
			column("c", customerColumns)+", "+column("k", bookingColumns)+", "+noMail+", EXISTS (SELECT 1 FROM pins p WHERE p.visit_id = v.id) FROM ("+
			weekPart(q.Part)+q.Part.order("1", "2")+" LIMIT ?5) f JOIN visits v ON v.id = f.id JOIN boats b ON b.id = v.boat_id"+withOwner+reach+
			" LEFT JOIN bookings k ON k.boat_id = v.boat_id AND k.visit_id = v.id"+q.Part.order("f.at", "v.id"), q.args(limitOr(q.Limit))...)
		if err != nil {
			return err
		}
		return addJobs(ctx, tx, rows)
	})
	return rows, wrap(err, "list what is %s in week %s", q.Part, q.Week)
}

func readWeekRow(c *cells) WeekRow {
	at := c.text(0)
	c.skip(1)
	r := WeekRow{Visit: readVisit(c)}
	c.skip(visitWidth)
	r.Boat = readBoat(c)
	c.skip(boatWidth)
	r.Owner = readCustomer(c)
	c.skip(customerWidth)
	if !c.null(0) {
		b := readBooking(c)
		r.Visit.Booking = &b
	}
	c.skip(bookingWidth)
	r.NoMail, r.Pinned = c.text(0), c.bool(1)
	r.Key = at + "\n" + r.Visit.ID
	return r
}

// addJobs fills in the jobs of the visits.
func addJobs(ctx context.Context, q querier, rows []WeekRow) error {
	at := make(map[string]int, len(rows))
	boats := make([]string, len(rows))
	for i := range rows {
		at[rows[i].Visit.ID], boats[i] = i, rows[i].Boat.ID
	}
	ids, err := json.Marshal(boats)
	if err != nil {
		return err
	}
	_, err = collect(ctx, q, func(c *cells) struct{} {
		if i, ok := at[c.text(0)]; ok {
			rows[i].Jobs = append(rows[i].Jobs, WeekJob{
				Rule: c.text(1), Due: c.day(2), Covered: c.text(3) != "", Title: c.text(4), Label: c.text(5),
			})
		}
		return struct{}{}
	}, `SELECT i.visit_id, i.rule, i.due, i.covered_by, f.title,
			CASE WHEN (SELECT count(*) FROM components z WHERE z.boat_id = i.boat_id AND z.kind = p.kind) > 1 THEN p.label END
		FROM (SELECT DISTINCT value AS boat_id FROM json_each(?)) w JOIN due_items i ON i.boat_id = w.boat_id AND i.visit_id <> ''
		LEFT JOIN components p ON p.boat_id = i.boat_id AND p.id = i.component_id
		LEFT JOIN follow_ups f ON i.rule = 'follow-up:' || f.id AND f.boat_id = i.boat_id
		ORDER BY i.boat_id, i.due, i.key`, string(ids))
	return err
}

// WeekCounts counts each part of a week, but never beyond most: counting a
// hundred thousand takes time, and nobody works through them by number.
func (db *DB) WeekCounts(ctx context.Context, q WeekQuery, most int) (map[WeekPart]int, error) {
	counts := make(map[WeekPart]int)
	err := db.snapshot(ctx, func(tx *sql.Tx) error {
		for _, p := range WeekParts() {
			q.After = ""
			n, err := one(ctx, tx, func(c *cells) int64 { return c.int(0) }, "SELECT count(*) FROM ("+weekPart(p)+" LIMIT ?5)", q.args(most)...)
			if err != nil {
				return err
			}
			counts[p] = int(n)
		}
		return nil
	})
	return counts, wrap(err, "count week %s", q.Week)
}
