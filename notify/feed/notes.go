package feed

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

const (
	workLead    = "Planned: "
	cautionLead = "Safety: "
	deferLead   = "The engine maker's manual"
	// deferNote closes every note that speaks of work on the boat.
	deferNote = deferLead + ", local codes and a qualified technician come first."

	// noteChars is about how long a note is: what a phone shows without scrolling.
	// The rest is on the page behind the link.
	noteChars = 600
	// noteCautions is how many cautions a note has, those about life first.
	noteCautions = 2
)

// visitNote is the plain text of a visit: where to answer, that address on a line
// of its own so that every client makes a link of it; when and why then, what,
// about how much, the cautions. What is too long loses jobs at the end.
func visitNote(shop Shop, v *schedule.VisitView, answer string, today civil.Day) string {
	before := []string{answerNote(&v.Visit, answer, today), passedNote(&v.Visit, today), v.Why}
	after := []string{costNote(shop, &v.Visit), cautionNote(v.Lines), deferNote, shop.Name}
	for shown := len(v.Lines); ; shown-- {
		note := paragraphs(slices.Concat(before, []string{workNote(v.Lines, shown)}, after))
		if shown <= 1 || utf8.RuneCountInString(note) <= noteChars {
			return note
		}
	}
}

// answerNote leads to the page where the customer answers.
func answerNote(v *schedule.Visit, page string, today civil.Day) string {
	switch {
	case page == "":
		return ""
	case v.DayPassed(today) != 0:
		return "To call us or to have us call you:\n" + page
	case v.Booked():
		return "To change or cancel it:\n" + page
	}
	return "Not booked yet. To book it, ask for another week, or tell us it was done elsewhere:\n" + page
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
	return "About " + words.WholeMoney(shop.Currency, v.Price) + ", an estimate; we ask before doing more."
}

// dueNote is the plain text of a due day that no visit takes care of.
func dueNote(l *schedule.Line, page string) string {
	var link string
	if page != "" {
		link = "To have us do it, or to tell us it is done:\n" + page
	}
	return paragraphs([]string{link, l.Why, l.Consequence, cautionNote([]schedule.Line{*l}), deferNote})
}

// workNote names the first so many jobs of a visit and counts the rest. A visit
// of one job says why it is due.
func workNote(lines []schedule.Line, shown int) string {
	if len(lines) == 0 {
		return ""
	}
	if len(lines) == 1 {
		return strings.TrimSpace(workLead + lines[0].Title + ". " + lines[0].Why)
	}
	var jobs []string
	for _, included := range []bool{false, true} {
		for i := range lines {
			if lines[i].Included == included {
				jobs = append(jobs, lines[i].Title)
			}
		}
	}
	more := ""
	if shown < len(jobs) {
		more = fmt.Sprintf("; and %d more", len(jobs)-shown)
	}
	return workLead + strings.Join(jobs[:shown], "; ") + more + "."
}

// cautionNote is what a rider should know, those about life first.
func cautionNote(lines []schedule.Line) string {
	all := schedule.OwnerCautions(lines, noteCautions)
	if len(all) == 0 {
		return ""
	}
	return cautionLead + strings.Join(all[:min(len(all), noteCautions)], " ")
}

// paragraphs puts an empty line between the parts that say something.
func paragraphs(parts []string) string {
	parts = slices.DeleteFunc(slices.Clone(parts), func(s string) bool { return strings.TrimSpace(s) == "" })
	return strings.Join(parts, "\n\n")
}
