package feed

import (
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/words"
)

const (
	workLead    = "What is planned:"
	cautionLead = "Caution:"
	deferLead   = "The engine maker's manual"
	// deferNote closes every note that speaks of work on the boat.
	deferNote = deferLead + ", local codes and a qualified technician come first."
)

// visitNote is the plain text of a visit: when and why then, what and why,
// about how much, the cautions, and where to answer, that address on a line of
// its own so that every client makes a link of it. A list of jobs that would
// push the rest out of the note loses its reasons.
func visitNote(shop Shop, v *schedule.VisitView, answer string, today civil.Day) string {
	after := []string{costNote(shop, &v.Visit), cautionNote(v.Lines)}
	switch {
	case answer == "":
	case v.Visit.Booked() && v.Visit.Booking.Day < today:
		after = append(after, "To call us or to have us call you:\n"+answer)
	case v.Visit.Booked():
		after = append(after, "To change or cancel it:\n"+answer)
	default:
		after = append(after, "Nothing is fixed yet. To take this week, ask for another, or tell us it was done elsewhere:\n"+answer)
	}
	after = append(after, shop.Name)
	whole := func(why bool) string {
		return paragraphs(append([]string{passedNote(&v.Visit, today), v.Why, workNote(v.Lines, why)}, after...))
	}
	if note := whole(true); len(note) <= maxNote {
		return note
	}
	return whole(false)
}

// passedNote says of a visit whose booked day has passed that its work is not
// recorded.
func passedNote(v *schedule.Visit, today civil.Day) string {
	day := v.DayPassed(today)
	if day == 0 {
		return ""
	}
	return "The booked day, " + day.Long() + ", has passed and no work is recorded yet. If the boat was not in, please call us."
}

func costNote(shop Shop, v *schedule.Visit) string {
	if v.Price <= 0 {
		return ""
	}
	return "About " + estimate(shop.Currency, v.Price) + ", an estimate. What we find on the boat may change it; we ask before doing more."
}

// dueNote is the plain text of a due day that no visit takes care of.
func dueNote(l *schedule.Line, page string) string {
	parts := []string{l.Why, l.Consequence, cautionNote([]schedule.Line{*l})}
	if page != "" {
		parts = append(parts, "To have us do it, or to tell us it is done:\n"+page)
	}
	return paragraphs(parts)
}

// workNote lists the jobs of a visit, with their reasons if why is set. Jobs
// that another one includes are named at the end without.
func workNote(lines []schedule.Line, why bool) string {
	var jobs, included []string
	for _, l := range lines {
		if l.Included {
			included = append(included, l.Title)
			continue
		}
		job := "- " + l.Title
		if why && l.Why != "" {
			job += ". " + l.Why
		}
		jobs = append(jobs, job)
	}
	if len(included) > 0 {
		jobs = append(jobs, "- Included: "+strings.Join(included, "; ")+".")
	}
	if jobs == nil {
		return ""
	}
	return workLead + "\n" + strings.Join(jobs, "\n")
}

// cautionNote lists the cautions of all lines, each once, and what comes
// before anything written here.
func cautionNote(lines []schedule.Line) string {
	var all []string
	for _, l := range lines {
		for _, c := range l.Cautions {
			if !slices.Contains(all, c) {
				all = append(all, c)
			}
		}
	}
	if all == nil {
		return deferNote
	}
	return cautionLead + "\n- " + strings.Join(all, "\n- ") + "\n" + deferNote
}

// estimate words an amount to the nearest ten from a hundred on, else to the
// nearest five, and never as nothing.
func estimate(currency string, amount measure.Cents) string {
	step := measure.Cents(500)
	if amount >= 100_00 {
		step = 1000
	}
	return words.WholeMoney(currency, max((amount+step/2)/step*step, step))
}

// paragraphs puts an empty line between the parts that say something.
func paragraphs(parts []string) string {
	parts = slices.DeleteFunc(slices.Clone(parts), func(s string) bool { return strings.TrimSpace(s) == "" })
	return strings.Join(parts, "\n\n")
}
