package message

import (
	"bellbuoy/notify"
	"bellbuoy/schedule/words"
)

// freeze words the email about a freeze that is forecast: which boat, how cold and
// when, by when something can be done and what. It gives nobody a technician's job.
func (w *composer) freeze(c *content, a *notify.FreezeAlert) {
	by := w.appointment(notify.Appointment{Day: a.By(), Minute: -1})
	night := w.appointment(notify.Appointment{Day: a.Freeze.Night, Minute: -1})
	names := make([]string, len(a.Boats))
	for i := range a.Boats {
		b := &a.Boats[i]
		names[i] = b.Boat.Title()
		r := row{Gutter: w.t.Say("when.gutter_by"), GutterDate: w.day(a.By()), Boat: b.Boat.Title(), Title: w.t.Say("freeze.row"),
			Facts: []string{w.t.Say("freeze.cold", "cold", w.format.Temperature(a.Freeze.Tenths), "night", night)}}
		if v := b.Visit; v != nil && v.Booked() {
			r.Facts = append(r.Facts, w.t.Say("freeze.booked", "date", w.appointment(notify.Appointment{Day: v.Booking.Day, Minute: v.Booking.Minute})))
		}
		c.Rows = append(c.Rows, r)
	}
	c.Subject = words.OneLine(w.t.Say("freeze.subject", "boat", w.t.List(names), "night", night))
	c.Button.Label = w.t.Say("freeze.button")
	c.Why = []string{w.t.Say("freeze.why", "date", by)}
	c.Jobs = []string{w.t.Say("freeze.bring"), w.t.Say("freeze.fetch"), w.t.Say("freeze.done")}
	c.Safety = []string{w.t.Say("freeze.safety")}
}
