package site

import (
	"net/url"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// ReplyRow is one reply in full, with what the desk may do about it.
type ReplyRow struct {
	store.OpenAnswer
	On    civil.Day
	Words string // "booked Thursday 10 September 2026, instead of ..."
	Visit string // "Winterization", "" if it is about none
	Do    string // where the desk goes on, "" for nowhere
	Label string
	Open  bool // somebody of the shop has yet to see to it
}

// AnswerRow words a reply.
func (s *Site) AnswerRow(o *store.OpenAnswer) ReplyRow {
	row := ReplyRow{OpenAnswer: *o, On: s.DayOf(o.At), Visit: visitNamed(o.VisitID), Words: s.replyWords(o)}
	boat := "/boats/" + url.PathEscape(o.BoatID)
	switch o.Kind {
	case schedule.AnswerCall:
		row.Do, row.Label, row.Open = "/calls", "Call list", !o.Seen
	case schedule.AnswerSold:
		row.Do, row.Label, row.Open = boat+"/owner", "Confirm", !o.Seen
	}
	if o.Against != nil && !o.Seen {
		row.Words += "; the visit was booked for " + s.BookedFor(o.Against)
		row.Open = true
		switch o.Kind {
		case schedule.AnswerLater, schedule.AnswerDecline:
			row.Do, row.Label = boat+"/book?"+url.Values{"visit": {o.VisitID}, "back": {"/replies"}}.Encode(), "Move or cancel"
		case schedule.AnswerElsewhere: // the visit may have left the plan
			row.Do, row.Label = boat, "Plan"
		}
	}
	return row
}

// Settles reports whether the desk may say that somebody has seen to the reply. Word
// of a sale is settled by the change of owner.
func (r *ReplyRow) Settles() bool { return !r.Seen && r.Kind != schedule.AnswerSold }

// replyWords say what was replied, to stand after "the owner".
func (s *Site) replyWords(o *store.OpenAnswer) string {
	switch o.Kind {
	case schedule.AnswerTake:
		switch {
		case o.Is == nil:
			return "booked a day"
		case o.Was == nil:
			return "booked " + s.BookedFor(o.Is)
		}
		return "booked " + s.BookedFor(o.Is) + ", instead of " + s.BookedFor(o.Was)
	case schedule.AnswerCancel:
		if o.Was != nil {
			return "canceled " + s.BookedFor(o.Was)
		}
		return "canceled a booked day"
	case schedule.AnswerLater:
		return "wants to be asked again after " + s.Format().Date(o.Until)
	case schedule.AnswerDecline:
		return "does not want the visit"
	case schedule.AnswerCall:
		return "wants a call"
	case schedule.AnswerElsewhere:
		return strings.Join(append([]string{"had work done elsewhere" + s.WorkWords(o.Records, o.Note)}, s.ReadingWords(o.Readings)...), "; ")
	case schedule.AnswerHours:
		return strings.Join(append([]string{"read the hour meter"}, s.ReadingWords(o.Readings)...), ": ")
	case schedule.AnswerSold:
		return "no longer has the boat"
	case schedule.AnswerMails:
		return mailsWords(o.MailsAre)
	}
	return string(o.Kind)
}

// WorkWords name the jobs that were done, day by day, and what was noted of them
// beside the reply's own note.
func (s *Site) WorkWords(records []schedule.Record, note string) string {
	var days, jobs []string
	for i, r := range records {
		jobs = append(jobs, s.ServiceTitle(r.Service))
		last := i == len(records)-1
		if !last && records[i+1].Day == r.Day {
			continue
		}
		day := s.Say("page_said.work", "jobs", strings.Join(jobs, ", "), "date", s.Format().Date(r.Day))
		switch {
		case !last || r.Note == "" || r.Note == note:
		case r.Note == ToldByOwner:
			day += " (" + s.Say("page_said.by_owner") + ")"
		default:
			day += " (" + r.Note + ")"
		}
		days, jobs = append(days, day), nil
	}
	if len(days) == 0 {
		return ""
	}
	return s.Say("page.of", "what", strings.Join(days, "; "))
}

// ToldByOwner is the note of work that a customer ticked off on their own page.
const ToldByOwner = "told by the owner"

// ServiceTitle names a job.
func (s *Site) ServiceTitle(service string) string {
	return s.App.Planner.Catalogue().ServiceTitleIn(s.Language(), service)
}

// ReadingWords are readings, each with its day.
func (s *Site) ReadingWords(readings []schedule.Reading) []string {
	var out []string
	for _, r := range readings {
		out = append(out, s.Say("page_said.reading", "hours", s.Format().Hours(r.Hours), "date", s.Format().Date(r.Day)))
	}
	return out
}

func mailsWords(m *store.MailChoice) string {
	switch {
	case m == nil:
		return "chose which emails to get"
	case m.NoMail:
		return "stopped all emails"
	case m.NoReminders:
		return "stopped reminders; emails about booked visits still go out"
	}
	return "wants our emails again"
}
