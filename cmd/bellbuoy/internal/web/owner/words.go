package owner

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/schedule/words"
)

// Words are the words that the owner's templates use.
func Words(of *site.Site) template.FuncMap {
	s := pages{Site: of}
	return template.FuncMap{
		"dollars":    s.Whole,
		"list":       listPath,
		"opens":      opens,
		"opensat":    opensAt,
		"forecast":   func(on civil.Day) figures.Query { return figures.Query{List: figures.ListForecast, From: on} },
		"chances":    figures.ChancesFigure,
		"aboutmoney": s.aboutMoney,
		"percent":    func(x float64) string { return fmt.Sprintf("%.0f%%", 100*x) },
		"decimal":    func(x float64) string { return fmt.Sprintf("%.2f", x) },
		"against":    against,
		"change":     func(now, before int) string { return against(schedule.Cents(now), schedule.Cents(before)) },
		"ratio":      ratio,
		"wholehours": func(minutes int) string { return fmt.Sprintf("%d h", (minutes+30)/60) },
		"splithead":  words.UpperFirst,
		"missed":     missed,
		"months":     months,
		"median":     median,
		"left":       left,
		"fatename":   fateName,
		"reachname":  reachName,
		"stepname":   stepName,
		"groupname":  groupName,
		"verdict":    verdict,
		"inahundred": inAHundred,
		"morepaid":   s.morePaid,
	}
}

func listPath(q figures.Query) string { return "/owner/list/" + q.String() }

// opens is a figure as the link to the list that it is counted from, named for those
// who hear the link without its row: "$1,240, Winterization, this year". Nothing is
// no link: it has no list worth opening.
func opens(q figures.Query, figure string, name ...string) template.HTML {
	return opensAt("", q, figure, name...)
}

// opensAt is the same for a list of the shop whose pages begin with an address.
func opensAt(shop string, q figures.Query, figure string, name ...string) template.HTML {
	if !strings.ContainsAny(figure, "123456789") {
		return template.HTML(template.HTMLEscapeString(figure))
	}
	label := ""
	if len(name) > 0 {
		label = ` aria-label="` + template.HTMLEscapeString(strings.Join(append([]string{figure}, name...), ", ")) + `"`
	}
	return template.HTML(`<a href="` + template.HTMLEscapeString(shop+listPath(q)) + `"` + label + `>` + template.HTMLEscapeString(figure) + `</a>`)
}

// aboutMoney is an estimated amount, rounded to a hundred from ten thousand on and to
// ten below.
func (s pages) aboutMoney(c schedule.Cents) string {
	unit := schedule.Cents(1000)
	if c >= 1_000_000 {
		unit *= 10
	}
	return s.Whole((c + unit/2) / unit * unit)
}

// against is an amount beside an earlier one: "+12 %".
func against(now, before schedule.Cents) string {
	if before == 0 {
		return "–"
	}
	return signed(float64(now-before) / float64(before))
}

// ratio is a part of a whole: "43%".
func ratio(part, whole int) string {
	if whole == 0 {
		return "–"
	}
	return fmt.Sprintf("%d%%", (100*part+whole/2)/whole)
}

// signed is a share with its sign: "+12 %", "−3 %", "0%".
func signed(x float64) string {
	switch n := int(math.Round(100 * x)); {
	case n > 0:
		return fmt.Sprintf("+%d%%", n)
	case n < 0:
		return fmt.Sprintf("−%d%%", -n)
	}
	return "0%"
}

// inAHundred words a difference of shares: "9 (-4 to 21)".
func inAHundred(e returns.Effect) string {
	if !e.Known {
		return "too few to say"
	}
	n := func(x float64) string { return strings.ReplaceAll(fmt.Sprint(math.Round(100*x)+0), "-", "−") } // +0: no minus zero
	return fmt.Sprintf("%s (%s to %s)", n(e.By), n(e.Low), n(e.High))
}

// morePaid words a difference of amounts with its interval.
func (s pages) morePaid(e returns.Effect) string {
	if !e.Known {
		return "too few to say"
	}
	n := func(cents float64) string {
		c := schedule.Cents(math.Round(cents))
		if c < 0 {
			return "−" + s.Whole(-c)
		}
		return s.Whole(c)
	}
	return fmt.Sprintf("%s (%s to %s)", n(e.By), n(e.Low), n(e.High))
}

// verdict says in a sentence what the lots of all seasons show, and no more than
// that.
func verdict(w figures.HoldoutSeason) string {
	e := w.CameMore
	times := func(x float64) int { return int(math.Round(x * float64(w.Notified.All.Count))) }
	switch {
	case !e.Known:
		return "Too few customers in either group to say anything yet."
	case e.Low > 0:
		return fmt.Sprintf("The second reminder brings customers in: of the %d who got it about %d returned because of it (95%% interval: %d to %d).",
			w.Notified.All.Count, times(e.By), times(e.Low), times(e.High))
	case e.High < 0:
		return fmt.Sprintf("Fewer of those who got the second reminder returned, more than chance explains: about %d of %d stayed away because of it (95%% interval: %d to %d).",
			-times(e.By), w.Notified.All.Count, -times(e.High), -times(e.Low))
	}
	return fmt.Sprintf("It is not clear yet whether the second reminder brings anybody in: the difference may be chance (of a hundred reminded, between %s fewer and %s more returned). More seasons or a larger comparison group would show it.",
		fmt.Sprint(math.Round(-100*e.Low)), fmt.Sprint(math.Round(100*e.High)))
}

// missed is how far a past forecast was off.
func missed(r returns.Replay) string {
	e, ok := r.Error()
	if !ok {
		return "no year before it to learn from"
	}
	return signed(e)
}

// daysPerMonth is the mean length of a month, for times told in months.
const daysPerMonth = 30.44

func months(days int) string { return fmt.Sprintf("%.1f months", float64(days)/daysPerMonth) }

// inMonths is the same number alone.
func inMonths(days int) string { return fmt.Sprintf("%.1f", float64(days)/daysPerMonth) }

// median words the time by which half have had the event, with its band.
func median(c returns.Curve) string {
	m, ok := c.Median()
	if !ok {
		return "not reached"
	}
	early, hasEarly, late, hasLate := c.MedianBand()
	switch {
	case hasEarly && hasLate:
		return fmt.Sprintf("%s (%s to %s)", months(m), inMonths(early), inMonths(late))
	case hasEarly:
		return fmt.Sprintf("%s (%s or later)", months(m), inMonths(early))
	}
	return months(m)
}

// left is the share without the event after so many months, with its band; a
// dash where nobody was followed for so long.
func left(c returns.Curve, after int) string {
	days := int(math.Round(float64(after) * daysPerMonth))
	if c.N == 0 || days > c.Last {
		return "–"
	}
	st := c.At(days)
	return fmt.Sprintf("%.0f%% (%.0f to %.0f)", 100*st.Survival, 100*st.Low, 100*st.High)
}

func fateName(f string) string {
	switch returns.Fate(f) {
	case returns.FateDone:
		return "done by us"
	case returns.FateElsewhere:
		return "done elsewhere"
	case returns.FateLost:
		return "sold or gone"
	case returns.FateDeclined:
		return "declined"
	case returns.FateBooked:
		return "booked"
	case returns.FateAnswered:
		return "replied, not booked"
	case returns.FateSilent:
		return "reminded, no reply"
	case returns.FateUntold:
		return "not reminded"
	}
	switch f {
	case "in-time":
		return "checked in time"
	case "late":
		return "checked too late"
	case "missed":
		return "not checked"
	case "open":
		return "still to be checked"
	}
	return f
}

func reachName(r returns.Reach) string {
	return [...]string{"in care", "due", "reminded", "replied", "booked", "done"}[r]
}

func stepName(s string) string {
	switch schedule.Step(s) {
	case schedule.StepInvitation:
		return "the first reminder"
	case schedule.StepNudge:
		return "the second reminder"
	case schedule.StepLastCall:
		return "the final reminder"
	case schedule.StepOverdue:
		return "the overdue notice"
	}
	return "no reminder"
}

func groupName(g figures.GroupChance) string {
	where := "where it freezes"
	if g.Name == "warm" {
		where = "where it does not freeze"
	}
	return fmt.Sprintf("%s, %s", g.Half, where)
}
