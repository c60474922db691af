package report

import (
	"context"
	"database/sql"
	"encoding/json"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// WeekPart is a part of the desk's week.
type WeekPart string

// The parts of the desk's week.
const (
	WeekOverdue     WeekPart = "overdue"     // past the deadline, not booked; in the order of [WeekQuery.Sort]
	WeekDayPassed   WeekPart = "day-passed"  // booked for a day that is over, no work recorded, and the boat not with us
	WeekHere        WeekPart = "here"        // booked for a day that is over, and the boat is still with us
	WeekBooked      WeekPart = "booked"      // comes in on a fixed day of the week
	WeekPencilled   WeekPart = "penciled"    // meant for the week, nobody has confirmed it
	WeekDue         WeekPart = "due"         // something falls due in the week, the visit is planned for another
	WeekWaiting     WeekPart = "waiting"     // told to the customer for this week or later, no answer yet
	WeekUnreachable WeekPart = "unreachable" // to be told by then, and mail does not reach the owner; of a coming week what lies from it on
	WeekOwner       WeekPart = "owner"       // no visit: the owner's own jobs of the week, and guarded ones whose day has passed
	WeekLapsed      WeekPart = "lapsed"      // overdue, of a boat that has not been in for long: no hours are held for it
)

// WeekParts are all parts in reading order.
func WeekParts() []WeekPart {
	return []WeekPart{WeekOverdue, WeekDayPassed, WeekHere, WeekBooked, WeekPencilled, WeekDue, WeekWaiting, WeekUnreachable, WeekLapsed, WeekOwner}
}

// WeekQuery asks for a week. Part says of which part rows are wanted: "" for
// the first Limit of each, else those of that part after the row whose
// [WeekRow.Key] is After.
type WeekQuery struct {
	Week  civil.Week
	Today civil.Day // what was booked for an earlier day has passed
	Kind  string    // only visits of this kind, "" for all
	Ahead int       // weeks by which the customer must have heard, for [WeekUnreachable]
	// Guarded are the rules, beside follow-ups, that law or safety asks for: an
	// owner's own job of theirs stays on this week's list when its day has passed.
	Guarded []string
	// Safety and Legal are the rules whose overdue work is dangerous, or against the
	// law, to leave: see [SortDanger].
	Safety, Legal []string
	Sort          WeekSort // of [WeekOverdue]
	Part          WeekPart
	After         string
	Limit         int // rows of a part; 0 means 100
	Most          int // counting ends here: nobody works through more by their number
}

// WeekSort is the order of what is overdue.
type WeekSort string

// The orders of what is overdue. Of very many, the latest missed are put in order.
const (
	SortDanger WeekSort = ""      // what is dangerous first, then what is against the law, then days late times price
	SortLate   WeekSort = "late"  // the most days late first
	SortPrice  WeekSort = "price" // the most money first
)

// WeekSection is one part of a week.
type WeekSection struct {
	Part  WeekPart
	Count int // at most [WeekQuery.Most]
	Rows  []WeekRow
	More  bool // there are rows after these
}

// WeekRow is a visit with what the desk needs beside it.
type WeekRow struct {
	Key    string
	Visit  schedule.Visit
	Boat   schedule.Boat
	Owner  schedule.Customer // without an id if the shop has the boat
	NoMail string            // why mail does not reach the owner, "" if it does
	Pinned bool              // the desk chose the week itself
	Stage  store.Stage       // how far a booked visit has come, "" while nobody pressed anything
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

// notBooked holds for a visit v that nobody has booked and that its owner has not
// declined: what he does not want is on the call list once, before the freeze.
const notBooked = ` AND NOT EXISTS (SELECT 1 FROM bookings n WHERE n.visit_id = v.id)
	AND NOT EXISTS (SELECT 1 FROM answers a WHERE a.boat_id = v.boat_id AND a.boat_id <> '' AND a.visit_id = v.id AND a.kind = 'decline' AND a.undone_at IS NULL
		AND NOT EXISTS (SELECT 1 FROM answers t WHERE t.boat_id = v.boat_id AND t.boat_id <> '' AND t.visit_id = v.id AND t.kind IN ('take', 'later', 'call') AND t.undone_at IS NULL AND t.id > a.id))`

// noMail says in a word why mail does not reach customer c, NULL if it does.
const noMail = `CASE WHEN c.id IS NULL THEN 'no owner on file' WHEN c.contact_by = 'phone' THEN 'wants to be called'
	WHEN c.contact_by = 'none' THEN 'wants no reminders or calls' WHEN c.email = '' THEN 'no email address'
	WHEN s.address IS NOT NULL THEN 'email bounces: ' || s.reason WHEN t.no_mail = 1 OR t.no_reminders = 1 THEN 'wants no reminders: call before the freeze?' END`

// reach joins what noMail looks at.
const reach = ` LEFT JOIN suppressions s ON s.address = lower(c.email) LEFT JOIN opt_outs t ON t.customer_id = c.id`

// weekPart selects the ids of one part with the day that they are ordered by.
// ?1 and ?2 are the week's first and last day, ?3 and ?4 the last row's day and
// id, ?5 the limit, ?6 the kind, ?7 the last week ahead, ?8 is today, ?9 the day
// before which a deadline is missed (” in a coming week, in which nothing is yet),
// ?10 the guarded rules, ?11 and ?12 those of safety and of law, ?13 how many overdue
// visits are put in order. Of [WeekOwner] the ids are boats'.
func weekPart(p WeekPart, kind string, sort WeekSort) string {
	// Asked only if one is: without it some indexes hold all that a part reads.
	ofKind := ""
	if kind != "" {
		ofKind = " AND v.kind = ?6"
	}
	const after = " AND (v.deadline, v.id) > (?3, ?4)"
	switch p {
	case WeekOverdue:
		// The second limit has the key worked out once for each and not again for the comparison.
		return "SELECT at, id FROM (SELECT " + sort.key() + " AS at, v.id FROM (SELECT * FROM visits v WHERE v.deadline < ?9 AND v.lapsed = 0" + ofKind + notBooked +
			" ORDER BY v.deadline DESC LIMIT ?13) v LIMIT ?13) WHERE (at, id) > (?3, ?4)"
	case WeekLapsed:
		return "SELECT v.deadline AS at, v.id FROM visits v WHERE v.deadline < ?9 AND v.lapsed = 1" + after + ofKind + notBooked
	case WeekDayPassed, WeekHere:
		in := " NOT IN "
		if p == WeekHere {
			in = " IN "
		}
		return "SELECT k.day AS at, v.id FROM bookings k JOIN visits v ON v.id = k.visit_id WHERE k.day < ?8 AND k.day <= ?2 AND (k.day, v.id) > (?3, ?4)" + ofKind +
			" AND k.visit_id" + in + "(SELECT visit_id FROM stages WHERE stage IN ('here', 'waiting', 'ready'))"
	case WeekBooked:
		const at = "k.day || printf(' %04d', k.minute + 1)"
		return "SELECT " + at + " AS at, v.id FROM bookings k JOIN visits v ON v.id = k.visit_id WHERE k.day BETWEEN max(?1, ?8) AND ?2 AND (" + at + ", v.id) > (?3, ?4)" + ofKind
	case WeekPencilled:
		return "SELECT v.deadline AS at, v.id FROM visits v WHERE v.week = ?1 AND v.deadline >= ?9" + after + ofKind + notBooked
	case WeekDue:
		return `SELECT v.deadline AS at, v.id FROM (SELECT DISTINCT visit_id FROM due_items WHERE due BETWEEN ?1 AND ?2 AND basis <> 'unknown' AND visit_id <> '') i
			JOIN visits v ON v.id = i.visit_id WHERE i.visit_id NOT IN (SELECT w.id FROM visits w WHERE w.week = ?1) AND v.deadline >= ?9` + after + ofKind + notBooked
	case WeekWaiting:
		return "SELECT v.told_week AS at, v.id FROM visits v WHERE v.told_week >= ?1 AND v.told_week = v.week AND (v.told_week, v.id) > (?3, ?4)" + ofKind + notBooked
	case WeekOwner:
		// Without the plus all due items would be read, in the order of the grouping.
		return "SELECT min(i.due) AS at, i.boat_id AS id FROM due_items i WHERE ?6 = '' AND " + ownersJob +
			" GROUP BY +i.boat_id HAVING (min(i.due), i.boat_id) > (?3, ?4)"
	}
	// Few owners cannot be reached: only theirs are asked whether they are booked.
	return `SELECT at, id FROM (SELECT v.week AS at, v.id, v.boat_id FROM visits v LEFT JOIN ownerships o ON o.boat_id = v.boat_id AND o.to_day IS NULL
		LEFT JOIN customers c ON c.id = o.customer_id` + reach + " WHERE v.week <= ?7 AND (?9 <> '' OR v.week >= ?1) AND (v.week, v.id) > (?3, ?4)" + ofKind +
		" AND " + noMail + " IS NOT NULL ORDER BY v.week, v.id LIMIT -1) v WHERE true" + notBooked
}

// ownersJob says of a due item i whether it is one of [WeekOwner].
const ownersJob = `i.by_customer = 1 AND i.visit_id = '' AND i.due <= ?2
	AND (i.due >= ?1 OR i.due < ?9 AND (i.rule LIKE 'follow-up:%' OR i.rule IN (SELECT value FROM json_each(?10))))`

// key is the text by which overdue visits are put in order, from its least. ?8 is
// today, ?11 and ?12 are the rules of safety and of law.
func (s WeekSort) key() string {
	const late = "(julianday(?8) - julianday(v.deadline))"
	switch s {
	case SortLate:
		return "v.deadline"
	case SortPrice:
		return "printf('%012d', 999999999999 - v.price)"
	}
	has := func(rules string) string {
		return "EXISTS (SELECT 1 FROM due_items i WHERE i.boat_id = v.boat_id AND i.visit_id = v.id AND i.due < ?8 AND (i.rule IN (SELECT value FROM json_each(" + rules + "))"
	}
	return "iif(" + has("?11") + " OR i.rule LIKE 'follow-up:%' AND i.price = 0)), '0', iif(" + has("?12") + ")), '1', '2')) || printf('%015d', 999999999999999 - cast(" + late + " AS INTEGER) * max(v.price, 1))"
}

// spot is a visit's place in a part.
type spot struct{ at, id string }

func (s spot) key() string { return s.at + "\n" + s.id }

// spots returns the first visits of a part after a key, at most limit.
func (q WeekQuery) spots(ctx context.Context, tx kernel.Querier, p WeekPart, after string, limit int) ([]spot, error) {
	return kernel.Collect(ctx, tx, func(c *kernel.Row) spot { return spot{c.Text(0), c.Text(1)} },
		weekPart(p, q.Kind, q.Sort)+" ORDER BY 1, 2 LIMIT ?5", q.args(after, limit)...)
}

// args are what the queries of the parts refer to by number.
func (q WeekQuery) args(after string, limit int) []any {
	day, id, _ := tables.SplitKey(after)
	missed := ""
	if q.Week <= q.Today.Week() {
		missed = q.Week.Monday().String()
	}
	return []any{q.Week.Monday().String(), q.Week.Sunday().String(), day, id, limit, q.Kind,
		(q.Week + civil.Week(q.Ahead)).Monday().String(), q.Today.String(), missed, kernel.IDList(q.Guarded), kernel.IDList(q.Safety), kernel.IDList(q.Legal), max(q.Most, kernel.LimitOr(q.Limit)+1)}
}

// WeekOverview returns the parts of a week in reading order, as of one moment.
// Its cost grows with the week, not with the fleet.
func WeekOverview(ctx context.Context, db *store.Reader, q WeekQuery) ([]WeekSection, error) {
	var out []WeekSection
	err := db.Snapshot(ctx, func(t *sql.Tx) error {
		tx := db.Read.Prepared(t)
		defer tx.Close()
		out = nil
		var wanted []spot // of all sections, in order
		limit := kernel.LimitOr(q.Limit)
		for _, p := range WeekParts() {
			found, err := q.spots(ctx, tx, p, "", max(q.Most, limit+1))
			if err != nil {
				return err
			}
			sec := WeekSection{Part: p, Count: min(len(found), q.Most)}
			switch {
			case q.Part != "" && q.Part != p:
				found = nil
			case q.After != "":
				if found, err = q.spots(ctx, tx, p, q.After, limit+1); err != nil {
					return err
				}
			}
			sec.More = len(found) > limit
			found = found[:min(len(found), limit)]
			sec.Rows = make([]WeekRow, len(found))
			wanted = append(wanted, found...)
			out = append(out, sec)
		}
		owners := len(wanted) - len(out[len(out)-1].Rows) // where the boats begin
		rows, err := weekRows(ctx, tx, wanted[:owners])
		if err != nil {
			return err
		}
		own, err := q.ownerRows(ctx, tx, wanted[owners:])
		rows = append(rows, own...)
		for i := range out {
			rows = rows[copy(out[i].Rows, rows):]
		}
		return err
	})
	return out, kernel.Wrap(err, "read week %s", q.Week)
}

// weekRows reads the rows of some visits, in their order.
func weekRows(ctx context.Context, tx kernel.Querier, spots []spot) ([]WeekRow, error) {
	ids := make([]string, len(spots))
	for i := range spots {
		ids[i] = spots[i].id
	}
	list, err := json.Marshal(ids)
	if err != nil {
		return nil, err
	}
	rows, err := kernel.Collect(ctx, tx, readWeekRow, "SELECT "+kernel.Column("v", tables.VisitColumns)+", "+kernel.Column("b", tables.BoatColumns)+", "+
		kernel.Column("c", tables.CustomerColumns)+", "+kernel.Column("k", tables.BookingColumns)+", "+noMail+", EXISTS (SELECT 1 FROM pins p WHERE p.visit_id = v.id AND NOT p.by_customer), (SELECT stage FROM stages g WHERE g.visit_id = k.visit_id)"+
		" FROM json_each(?) j JOIN visits v ON v.id = j.value JOIN boats b ON b.id = v.boat_id"+tables.WithOwner+reach+
		" LEFT JOIN bookings k ON k.boat_id = v.boat_id AND k.visit_id = v.id ORDER BY j.key", string(list))
	if err != nil {
		return nil, err
	}
	for i := range rows {
		rows[i].Key = spots[i].key()
	}
	return rows, addJobs(ctx, tx, rows)
}

// ownerRows reads the rows of [WeekOwner] of some boats, in their order.
func (q WeekQuery) ownerRows(ctx context.Context, tx kernel.Querier, spots []spot) ([]WeekRow, error) {
	ids := make([]string, len(spots))
	for i := range spots {
		ids[i] = spots[i].id
	}
	list, err := json.Marshal(ids)
	if err != nil {
		return nil, err
	}
	rows, err := kernel.Collect(ctx, tx, func(c *kernel.Row) WeekRow {
		r := WeekRow{Boat: tables.ReadBoat(c)}
		c.Skip(tables.BoatWidth)
		r.Owner = tables.ReadCustomer(c)
		c.Skip(tables.CustomerWidth)
		r.NoMail, r.Visit.BoatID = c.Text(0), r.Boat.ID
		return r
	}, "SELECT "+kernel.Column("b", tables.BoatColumns)+", "+kernel.Column("c", tables.CustomerColumns)+", "+noMail+
		" FROM json_each(?) j JOIN boats b ON b.id = j.value"+tables.WithOwner+reach+" ORDER BY j.key", string(list))
	if err != nil {
		return nil, err
	}
	jobs := make(map[string][]WeekJob)
	_, err = kernel.Collect(ctx, tx, func(c *kernel.Row) struct{} {
		jobs[c.Text(0)] = append(jobs[c.Text(0)], readWeekJob(c))
		return struct{}{}
	}, "SELECT i.boat_id"+jobColumns+" FROM json_each(?14) w JOIN due_items i ON i.boat_id = w.value AND "+ownersJob+jobTables, append(q.args("", 0), string(list))...)
	for i := range rows {
		r := &rows[i]
		r.Key, r.Jobs = spots[i].key(), jobs[r.Boat.ID]
		r.Visit.Deadline = r.Jobs[0].Due
		r.Visit.Day = r.Visit.Deadline
	}
	return rows, err
}

func readWeekRow(c *kernel.Row) WeekRow {
	var r WeekRow
	r.Visit, r.Boat, r.Owner = tables.ReadVisitOf(c)
	r.NoMail, r.Pinned, r.Stage = c.Text(0), c.Bool(1), store.Stage(c.Text(2))
	return r
}

// addJobs fills in the jobs of the visits. A visit may stand in several parts.
func addJobs(ctx context.Context, q kernel.Querier, rows []WeekRow) error {
	jobs := make(map[string][]WeekJob, len(rows))
	boats := make([]string, len(rows))
	for i := range rows {
		jobs[rows[i].Visit.ID], boats[i] = nil, rows[i].Boat.ID
	}
	ids, err := json.Marshal(boats)
	if err != nil {
		return err
	}
	_, err = kernel.Collect(ctx, q, func(c *kernel.Row) struct{} {
		if _, ok := jobs[c.Text(0)]; ok {
			jobs[c.Text(0)] = append(jobs[c.Text(0)], readWeekJob(c))
		}
		return struct{}{}
	}, "SELECT i.visit_id"+jobColumns+" FROM (SELECT DISTINCT value AS boat_id FROM json_each(?)) w JOIN due_items i ON i.boat_id = w.boat_id AND i.visit_id <> ''"+
		jobTables, string(ids))
	for i := range rows {
		rows[i].Jobs = jobs[rows[i].Visit.ID]
	}
	return err
}

// What is read of a job beside what it is of, and from where.
const (
	jobColumns = `, i.rule, i.due, i.covered_by, f.title,
		CASE WHEN (SELECT count(*) FROM components z WHERE z.boat_id = i.boat_id AND z.kind = p.kind) > 1 THEN p.label END`
	jobTables = ` LEFT JOIN components p ON p.boat_id = i.boat_id AND p.id = i.component_id
		LEFT JOIN follow_ups f ON i.rule = 'follow-up:' || f.id AND f.boat_id = i.boat_id
		ORDER BY i.boat_id, i.due, i.key`
)

func readWeekJob(c *kernel.Row) WeekJob {
	return WeekJob{Rule: c.Text(1), Due: c.Day(2), Covered: c.Text(3) != "", Title: c.Text(4), Label: c.Text(5)}
}
