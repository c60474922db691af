package notify

import (
	"cmp"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// Choose picks the notices that may leave when there is room for so many
// reminders: answers to bookings always, of the rest the most urgent, then the
// one that lapses first. The others come again at the next asking.
func Choose(notices []Notice, room int) []Notice {
	sorted := slices.SortedStableFunc(slices.Values(notices), func(a, b Notice) int {
		if a.AtOnce != b.AtOnce {
			if a.AtOnce {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(urgency(b.Step), urgency(a.Step)), a.NotAfter.Compare(b.NotAfter), cmp.Compare(a.Key, b.Key))
	})
	n := 0
	for n < len(sorted) && (sorted[n].AtOnce || room > 0) {
		if !sorted[n].AtOnce {
			room--
		}
		n++
	}
	return sorted[:n]
}

// Rehearsal is what would leave on one day.
type Rehearsal struct {
	Day     civil.Day
	Notices []Notice
	Waiting int // due, but beyond the day's room
}

// Rehearse says what would leave if sending were switched on now, day by day,
// with the plan as it stands and nobody answering. It changes nothing; the
// recipients' facts are copied before they are added to.
func Rehearse(recipients []schedule.Recipient, cfg PolicyConfig, now time.Time, days int) []Rehearsal {
	rs := slices.Clone(recipients)
	index := make(map[string]int, len(rs))
	for i := range rs {
		rs[i].Notified, rs[i].Holdouts = slices.Clone(rs[i].Notified), slices.Clone(rs[i].Holdouts)
		index[rs[i].Customer.ID] = i
	}
	first := civil.FromTime(now.In(cfg.Zone))
	var out []Rehearsal
	for k := range days {
		at, open := cfg.Window.Opens(first+civil.Day(k), cfg.Zone)
		if at.Before(now) {
			at, open = now, open && cfg.Window.Open(now.In(cfg.Zone))
		}
		if !open {
			continue
		}
		var due []Notice
		for i := range rs {
			rs[i].Holdouts = append(rs[i].Holdouts, AssignHoldouts(rs[i], cfg, at)...)
			due = append(due, Decide(rs[i], cfg, at)...)
		}
		chosen := Choose(due, Ramp(cfg, k, 0))
		for _, n := range chosen {
			r := &rs[index[n.Customer.ID]]
			r.Notified = append(r.Notified, n.Notified...)
			r.LastMail = first + civil.Day(k)
		}
		if len(due) > 0 {
			out = append(out, Rehearsal{Day: first + civil.Day(k), Notices: chosen, Waiting: len(due) - len(chosen)})
		}
	}
	return out
}
