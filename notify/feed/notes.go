package feed

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

const (
	// noteChars is about how long a note is: what a phone shows without scrolling.
	// The rest is on the page behind the link.
	noteChars = 600
	// noteCautions is how many cautions a note has, those about life first.
	noteCautions = 2
)

// visitNote is the plain text of a visit: where to answer, that address on a line
// of its own so that every client makes a link of it; when and why then, what,
// about how much, the cautions. What is too long loses its second caution, then
// jobs from the end.
func visitNote(shop Shop, v *schedule.VisitView, answer string, today civil.Day) string {
	before := []string{answerNote(shop, &v.Visit, answer, today), passedNote(shop, &v.Visit, today), v.Why}
	for cautions, shown := noteCautions, len(v.Lines); ; {
		after := []string{costNote(shop, &v.Visit), cautionNote(shop, v.Lines, cautions), shop.texts().Say("event.defer")}
		note := paragraphs(slices.Concat(before, []string{workNote(shop, v.Lines, shown)}, after))
		switch {
		case utf8.RuneCountInString(note) <= noteChars || cautions == 1 && shown <= 0:
			return note
		case cautions > 1:
			cautions--
		default:
			shown--
		}
	}
}

// answerNote leads to the page where the customer answers.
func answerNote(shop Shop, v *schedule.Visit, page string, today civil.Day) string {
	switch {
	case page == "":
		return ""
	case v.DayPassed(today) != 0:
		return shop.texts().Say("event.answer.passed") + "\n" + page
	case v.Booked():
		return shop.texts().Say("appointment.change") + "\n" + page
	}
	return shop.texts().Say("event.answer.open") + "\n" + page
}

// passedNote says of a visit whose booked day has passed that its work is not
// recorded.
func passedNote(shop Shop, v *schedule.Visit, today civil.Day) string {
	day := v.DayPassed(today)
	if day == 0 {
		return ""
	}
	return shop.texts().Say("event.unrecorded", "date", shop.Format.Date(day))
}

func costNote(shop Shop, v *schedule.Visit) string {
	if v.Price <= 0 {
		return ""
	}
	return shop.texts().Say("event.cost", "amount", shop.Format.WholeMoney(v.Price))
}

// dueNote is the plain text of a due day that no visit takes care of.
func dueNote(shop Shop, l *schedule.Line, page string) string {
	var link string
	if page != "" {
		link = shop.texts().Say("event.answer.due") + "\n" + page
	}
	return paragraphs([]string{link, l.Why, l.Consequence, cautionNote(shop, []schedule.Line{*l}, noteCautions), shop.texts().Say("event.defer")})
}

// workNote names the first so many jobs of a visit, the season's own before all,
// and counts the rest. A visit of one job says
// why it is due if that one is to be shown.
func workNote(shop Shop, lines []schedule.Line, shown int) string {
	if len(lines) == 0 {
		return ""
	}
	if len(lines) == 1 && shown == 1 {
		return strings.TrimSpace(shop.texts().Say("event.job", "job", lines[0].Title, "why", lines[0].Why))
	}
	shown = max(shown, 1)
	var season, own, included []string
	for i := range lines {
		switch l := &lines[i]; {
		case l.Item.Basis == schedule.BasisSeason:
			season = append(season, l.Title)
		case !l.Included:
			own = append(own, l.Title)
		default:
			included = append(included, l.Title)
		}
	}
	jobs := slices.Concat(season, own, included)
	named := strings.Join(jobs[:shown], "; ")
	if shown < len(jobs) {
		named = shop.texts().Say("event.more", "jobs", named, "n", strconv.Itoa(len(jobs)-shown))
	}
	return shop.texts().Say("event.jobs", "jobs", named)
}

// cautionNote is what a rider should know, at most so many, those about life first.
func cautionNote(shop Shop, lines []schedule.Line, most int) string {
	all := schedule.OwnerCautions(lines, most)
	if len(all) == 0 {
		return ""
	}
	return shop.texts().Say("event.caution", "text", strings.Join(all[:min(len(all), most)], " "))
}

// paragraphs puts an empty line between the parts that say something.
func paragraphs(parts []string) string {
	parts = slices.DeleteFunc(slices.Clone(parts), func(s string) bool { return strings.TrimSpace(s) == "" })
	return strings.Join(parts, "\n\n")
}
