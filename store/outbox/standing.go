package outbox

import (
	"context"
	"encoding/json"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// joinNames writes what a letter names for its column, "" for nothing.
func joinNames(names []schedule.Named) string {
	if len(names) == 0 {
		return ""
	}
	b, err := json.Marshal(names)
	if err != nil {
		panic("a list of texts is always JSON: " + err.Error())
	}
	return string(b)
}

// changedName selects, of a letter that has just been leased for its first
// attempt, the first thing that it names and that no longer stands as it says:
// a list of its id, how it stood and how it stands, as JSON; NULL if there is
// none. The line is that of [schedule.Visit.Standing]. A visit that is not
// planned, or whose boat is no longer the customer's, does not stand at all.
const changedName = `CASE WHEN attempts = 1 AND names <> '' THEN (SELECT json_array(id, was, stands) FROM (
		SELECT n.value ->> 'id' AS id, n.value ->> 'is' AS was, CASE n.value ->> 'id'
			WHEN '' THEN (SELECT c.email || ' ' || c.contact_by FROM customers c WHERE c.id = outbox.customer_id)
			WHEN '` + schedule.NamedLanguage + `' THEN (SELECT c.language FROM customers c WHERE c.id = outbox.customer_id)
			ELSE (SELECT iif(k.visit_id IS NULL, 'open ' || coalesce(v.week, v.day, '') || ' -1', 'booked ' || k.day || ' ' || k.minute)
					|| ' ' || v.price || ' ' || coalesce((SELECT max(a.id) FROM answers a WHERE a.customer_id = outbox.customer_id AND a.undone_at IS NULL
						AND (a.kind = 'sold' AND a.seen_at IS NULL OR a.kind IN ` + store.ReplyKinds + `)
						AND (a.visit_id = v.id OR a.visit_id = '' AND a.boat_id IN ('', v.boat_id))), 0)
				FROM visits v LEFT JOIN bookings k ON k.visit_id = v.id WHERE v.id = n.value ->> 'id'
				AND EXISTS (SELECT 1 FROM ownerships o WHERE o.boat_id = v.boat_id AND o.customer_id = outbox.customer_id AND o.to_day IS NULL))
			END AS stands
		FROM json_each(outbox.names) n) WHERE stands IS NOT was LIMIT 1) END`

// claimedMessage is a letter that was just leased, and why it must not go out
// after all, "" if it may.
type claimedMessage struct {
	schedule.Message
	changed string
}

func readClaimed(c *kernel.Row) claimedMessage {
	l := claimedMessage{Message: readWholeMessage(c)}
	if s := c.Text(wholeMessageWidth); s != "" {
		var is [3]*string
		c.Note(json.Unmarshal([]byte(s), &is))
		l.changed = changeWords(is)
	}
	return l
}

// changeWords says for the desk what has changed since a letter was written: a
// visit's id, how it stood and how it stands.
func changeWords(is [3]*string) string {
	id, was, stands := "", "", ""
	for i, to := range []*string{&id, &was, &stands} {
		if is[i] != nil {
			*to = *is[i]
		}
	}
	switch {
	case id == "":
		return "meanwhile the customer's email address or way of contact has changed"
	case id == schedule.NamedLanguage:
		return "meanwhile the customer reads another language"
	case stands == "":
		return id + ": meanwhile it is done, no longer planned, or the boat is not this customer's"
	}
	a, b := strings.Fields(was), strings.Fields(stands)
	const width = 5
	if len(a) != width || len(b) != width {
		return id + ": meanwhile it has changed"
	}
	switch {
	case a[0] != b[0] && b[0] == "booked":
		return id + ": meanwhile it is booked for " + b[1]
	case a[0] != b[0]:
		return id + ": meanwhile it is no longer booked"
	case a[1] != b[1] || a[2] != b[2]:
		return id + ": meanwhile it was moved to " + b[1]
	case a[3] != b[3]:
		return id + ": meanwhile its price has changed"
	}
	return id + ": meanwhile the customer has replied"
}

// WithdrawnSince returns the emails to customers that were withdrawn since a moment, in
// order of customer: what they are to be told must be decided again.
func WithdrawnSince(ctx context.Context, db *store.Reader, since time.Time) ([]schedule.Message, error) {
	all, err := kernel.Collect(ctx, db.Read, readMessage, "SELECT "+letterColumns+` FROM outbox
		WHERE state = 'withdrawn' AND done_at >= ? AND customer_id <> '' ORDER BY customer_id, id`, since.Unix())
	return all, kernel.Wrap(err, "list the emails that were withdrawn")
}
