package notify

import (
	"fmt"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
)

const (
	feedWorkLead    = "What is planned:"
	feedCautionLead = "Caution:"
	feedDeferLead   = "The engine maker's manual"
	// feedDefer closes every note that speaks of work on the boat.
	feedDefer = feedDeferLead + ", local codes and a qualified technician come first."
)

// feedVisitNote is the plain text of a visit: when and why then, what and why,
// about how much, the cautions, and where to answer, that address on a line of
// its own so that every client makes a link of it. A list of jobs that would
// push the rest out of the note loses its reasons.
func feedVisitNote(shop FeedShop, v *schedule.VisitView, answer string, today civil.Day) string {
	after := []string{feedCost(shop, &v.Visit), feedCautions(v.Lines)}
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
		return feedParagraphs(append([]string{feedPassed(&v.Visit, today), v.Why, feedWork(v.Lines, why)}, after...))
	}
	if note := whole(true); len(note) <= feedNoteBytes {
		return note
	}
	return whole(false)
}

// feedPassed says of a visit whose booked day has passed that its work is not
// recorded.
func feedPassed(v *schedule.Visit, today civil.Day) string {
	day := v.DayPassed(today)
	if day == 0 {
		return ""
	}
	return "The booked day, " + day.Long() + ", has passed and no work is recorded yet. If the boat was not in, please call us."
}

func feedCost(shop FeedShop, v *schedule.Visit) string {
	if v.Price <= 0 {
		return ""
	}
	return "About " + feedAbout(shop.Currency, v.Price) + ", an estimate. What we find on the boat may change it; we ask before doing more."
}

// feedDueNote is the plain text of a due day that no visit takes care of.
func feedDueNote(l *schedule.Line, page string) string {
	parts := []string{l.Why, l.Consequence, feedCautions([]schedule.Line{*l})}
	if page != "" {
		parts = append(parts, "To have us do it, or to tell us it is done:\n"+page)
	}
	return feedParagraphs(parts)
}

// feedWork lists the jobs of a visit, with their reasons if why is set. Jobs
// that another one includes are named at the end without.
func feedWork(lines []schedule.Line, why bool) string {
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
	return feedWorkLead + "\n" + strings.Join(jobs, "\n")
}

// feedCautions lists the cautions of all lines, each once, and what comes
// before anything written here.
func feedCautions(lines []schedule.Line) string {
	var all []string
	for _, l := range lines {
		for _, c := range l.Cautions {
			if !slices.Contains(all, c) {
				all = append(all, c)
			}
		}
	}
	if all == nil {
		return feedDefer
	}
	return feedCautionLead + "\n- " + strings.Join(all, "\n- ") + "\n" + feedDefer
}

// feedAbout words an estimate: to the nearest ten from a hundred on, else to
// the nearest five, and never to nothing.
func feedAbout(currency string, amount measure.Cents) string {
	step := measure.Cents(500)
	if amount >= 100_00 {
		step = 1000
	}
	whole := max((amount+step/2)/step*step, step) / 100
	return currency + feedThousands(fmt.Sprint(int64(whole)))
}

// feedThousands puts commas into a row of digits.
func feedThousands(digits string) string {
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + "," + digits[i:]
	}
	return digits
}

// feedParagraphs puts an empty line between the parts that say something.
func feedParagraphs(parts []string) string {
	parts = slices.DeleteFunc(slices.Clone(parts), func(s string) bool { return strings.TrimSpace(s) == "" })
	return strings.Join(parts, "\n\n")
}
