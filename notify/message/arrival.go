package message

import (
	"html/template"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/words"
)

// Arrival is what the shop tells whoever has booked: the words for bringing the
// boat and getting it back.
type Arrival struct {
	From, Until int    // when boats are dropped off, minutes of the day; the same for no set time
	Map         string // the address of a map, "" for none
	Contact     string // whom to call, "" for the shop's telephone
	// ByBerth says in English, in place of what is built in, how the boat comes to
	// the shop and what comes with it, by where it is kept, one of
	// [schedule.Berths]; "" says nothing, in no language.
	ByBerth map[string]string
}

// comes says how a boat comes to the shop.
func (w *composer) comes(berth string) string {
	if own, ok := w.shop.Arrival.ByBerth[berth]; ok && (own == "" || w.t.Language() == words.English) {
		return own
	}
	return w.t.Say("arrival.by." + berth)
}

// arrival says where, when and how a booked boat comes in, and puts the visits
// into the reader's calendar.
func (w *composer) arrival(c *content) {
	switch w.n.Step {
	case schedule.StepWelcome, schedule.StepNewLink:
		c.More = Hyperlink{w.t.Say("answer.calendar"), w.links.Calendar}
		return
	case schedule.StepConfirmation:
		switch {
		case w.n.Invitation != nil:
		case w.links.File != "":
			c.More = Hyperlink{w.t.Say("answer.file"), w.links.File}
		default:
			c.More = Hyperlink{w.t.Say("answer.calendar"), w.links.Calendar}
		}
	case schedule.StepBooked, schedule.StepNewAddress:
	default:
		return
	}
	a := &w.shop.Arrival
	comes, hourless := false, false
	var how []string
	for i := range w.n.Visits {
		v := &w.n.Visits[i]
		away := !strings.HasPrefix(v.Boat.Berth, "shop-")
		comes = comes || away
		hourless = hourless || away && v.Visit.Visit.Booked() && v.Visit.Visit.Booking.Minute < 0
		if s := w.comes(v.Boat.Berth); s != "" && !slices.Contains(how, s) {
			how = append(how, s)
		}
	}
	if comes {
		c.Facts = append(c.Facts, fact{w.t.Say("arrival.where"), w.shop.Address, template.URL(a.Map)})
	}
	if hourless && a.From != a.Until {
		c.Facts = append(c.Facts, fact{Label: w.t.Say("arrival.when"), Text: w.t.Say("arrival.between", "from", w.format.Clock(a.From), "until", w.format.Clock(a.Until))})
	}
	for _, s := range how {
		c.Facts = append(c.Facts, fact{Label: w.t.Say("arrival.how"), Text: s})
	}
	if a.Contact != "" {
		c.Call.Label, c.Call.Text = w.t.Say("answer.contact"), a.Contact
	}
}
