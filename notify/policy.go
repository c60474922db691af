package notify

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/schedule/words"
)

// PolicyConfig is the shop's policy of reminding. [DefaultPolicy] gives the
// usual figures; they are common practice, no source.
type PolicyConfig struct {
	Zone   *time.Location // the shop's; every day and hour here is of its clock
	Format words.Format   // of the days in reasons to call

	InvitationDays int // before the visit's week (its Monday) or day
	NudgeDays      int // before the visit's week or day
	LastCallDays   int // before the visit's deadline
	OverdueDays    int // after the visit's deadline
	StaleDays      int // after the overdue step falls due: news older than this is not mailed at all
	GapDays        int // least days between two reminders to one customer, of whatever step
	BookedDays     int // working days before a booked visit
	WarrantyDays   int // before the sale's engine warranty ends
	HoursAheadDays int // before an hours limit: when a meter reading is worth asking for
	HoursPerYear   int // most requests for a reading a year and boat
	CallWaitDays   int // after a customer asked for a call that nobody has tried: until then reminders rest
	NoAnswerDays   int // after a final reminder without a reply: the customer is called
	LeastNotice    int // working days between a reminder and the last day that can still be booked in time
	// VisitNotice says how many a visit needs, if that is more; nil for none.
	VisitNotice   func(*schedule.Visit) int
	YearlyCap     int // most reminders of all steps to one customer in a calendar year; the rest is for a call
	SilentSeasons int // so many seasons with reminders and no sign of life, and the customer is called instead
	// SmallVisit: a visit that costs less has a first and a final reminder only,
	// unless the law or somebody's safety asks for its work.
	SmallVisit schedule.Cents

	Window SendingWindow
	// HoldOutPercent is how many customers in a hundred hear no nudge in a season,
	// so that what nudges bring can be told from what would have come anyway; 0
	// holds none back. Assignment gives each customer's number for a season, from 0 to
	// below 1 and the same each time; it may be nil where none are held back.
	HoldOutPercent int
	Assignment     func(customerID string, season returns.Season) float64

	DailyCap int // most reminders a day, all customers together
	RampFrom int // reminders allowed on the first day of sending; doubled each day up to DailyCap
}

// DefaultPolicy returns the usual policy for a shop in the zone.
func DefaultPolicy(zone *time.Location) PolicyConfig {
	return PolicyConfig{
		Zone:           zone,
		InvitationDays: 42, NudgeDays: 21, LastCallDays: 7, OverdueDays: 10, StaleDays: 120,
		GapDays: 7, BookedDays: 2, WarrantyDays: 30,
		HoursAheadDays: 90, HoursPerYear: 2, NoAnswerDays: 3, CallWaitDays: 7,
		LeastNotice: 3, YearlyCap: 6, SilentSeasons: 2, SmallVisit: 15000,
		Window:   DefaultWindow(),
		DailyCap: 60, RampFrom: 10,
	}
}

// Notice is how many working days the shop needs before a visit.
func (c *PolicyConfig) Notice(v *schedule.Visit) int {
	if c.VisitNotice == nil {
		return c.LeastNotice
	}
	return max(c.LeastNotice, c.VisitNotice(v))
}

// Notice is one message that is due to one customer: what it tells, until when
// it is worth telling, and what has been told once it is queued.
type Notice struct {
	Customer schedule.Customer
	// Step is the most urgent step that the notice takes.
	Step     schedule.Step
	Visits   []NoticeVisit       // by urgency, then day
	Readings []MeterAsk          // meters to be read
	Done     []DoneWork          // for a summary: what was done
	Left     []string            // for a summary: the jobs that were not done this time
	Boats    []schedule.BoatView // for a welcome, a summary and their like: the plan that follows
	Corrects Told                // for a correction: what told of the mistake
	From     Sister              // for a welcome: the shop that passed the boat on, none for a sale
	Subjects []string            // rising; what the steps were taken about
	Key      string              // customer|subjects|step: the outbox takes each key once
	At       time.Time           // the instant of the decision, the mail's Date
	NotAfter time.Time           // the last useful instant
	AtOnce   bool                // answers a booking, or a freeze is coming: no window, no gap, no cap
	Renewals []Renewal           // papers that the owner renews
	Freeze   *FreezeAlert        // what a notice of [schedule.StepFreeze] is about
	Notified []schedule.Notified
	Names    []schedule.Named // what must still be so when it goes out
	// Invitation puts the appointment into the reader's calendar; nil for none.
	Invitation *Invitation
}

// Invitation is a calendar object that goes with an email (RFC 6047).
type Invitation struct {
	Method   string // as the calendar says it
	Calendar []byte
}

// Told is an email that a customer got.
type Told struct {
	Day     civil.Day
	Subject string
	Boat    schedule.Boat // that it told of
}

// About names what the notice is about, for whoever looks at it beforehand:
// "Perch Pressure, spring commissioning".
func (n *Notice) About() []string {
	var out []string
	for i := range n.Visits {
		out = append(out, n.Visits[i].Boat.Title()+", "+strings.ToLower(n.Visits[i].Visit.Title))
	}
	for i := range n.Readings {
		out = append(out, n.Readings[i].Boat.Title()+", hours")
	}
	for i := range n.Renewals {
		out = append(out, n.Renewals[i].Boat.Title()+", "+n.Renewals[i].Line.Item.Service)
	}
	return out
}

// NoticeVisit is one visit in a notice.
type NoticeVisit struct {
	Boat  schedule.Boat
	Visit schedule.VisitView
	// Step is the visit's own step, "" for a visit that is still open from
	// before and only mentioned.
	Step schedule.Step
	// Warranty: the visit carries the check before the sale's warranty ends.
	Warranty bool
	// First: no earlier email about the visit has surely arrived, so that this
	// one speaks as the first, whatever its step.
	First bool
	// NamedWeek is the week that the customer was told before, if it differs.
	NamedWeek civil.Week
	// Was is a booked day that no longer holds, for a cancellation or a move;
	// Change says on whose wish, and Reason why the shop did.
	Was    Appointment
	Change Change
	Reason string
}

// Change says what became of a booked day that the customer had been told.
type Change string

// The changes of a booked day. Without a word of either side the desk has moved
// or cancelled it as agreed with the customer.
const (
	ByCustomer Change = "you"    // on the customer's page, or by the desk's word
	ByShop     Change = "us"     // the shop had to
	Agreed     Change = "agreed" // by the desk
	HourSet    Change = "hour"   // the day stands; its time is set or another
	Declined   Change = "no"     // the customer does not want the visit
	BySister   Change = "sister" // a sister shop looks after the boat now
)

// MeterAsk asks the customer to read an engine's hour meter.
type MeterAsk struct {
	Boat  schedule.Boat
	Lines []schedule.Line // the jobs that wait for the figure
}

// DoneWork is one job in a summary after a visit.
type DoneWork struct {
	Title string
	// ChargeDays: every how many days the owner charges the batteries that a
	// winterization leaves with him, 0 if it leaves none; ColdCare if they are
	// lithium, which are checked then and never charged below freezing.
	ChargeDays int
	ColdCare   bool
	// Winterized: the boat lies up from now on, under a cover or wrapped.
	Winterized bool
}

// Decide returns what the customer should be told now, most urgent first. It
// is pure: the caller queues each notice together with its Notified facts in one
// transaction, and asks again at the next tick. Asked twice at the same moment
// without that, it answers the same.
//
// There is at most one reminder, which carries everything open for all boats of
// the customer; it waits while the customer is reminded of a booked day.
// Confirmations and cancellations come beside either. Nobody who opted out,
// whose address is dead or who does not want mail gets anything.
func Decide(r schedule.Recipient, cfg PolicyConfig, now time.Time) []Notice {
	if !mailable(&r) {
		return nil
	}
	d := newDecision(&r, cfg, now)
	notices := d.booked()
	if d.mayRemind(notices) {
		if n, ok := d.askedAgain(); ok {
			notices = append(notices, n)
		} else if n, ok := d.reminder(); ok {
			notices = append(notices, n)
		} else if n, ok := d.renewals(); ok {
			notices = append(notices, n)
		} else if n, ok := d.hours(); ok {
			notices = append(notices, n)
		}
	}
	for i := range notices {
		notices[i].nameLanguage()
	}
	return notices
}

// nameLanguage has the notice worded again if its customer reads another language by the
// time that it goes out. Only for what is decided, or can be made, once more.
func (n *Notice) nameLanguage() {
	n.Names = append(n.Names, schedule.Named{ID: schedule.NamedLanguage, Standing: n.Customer.Language})
}

// mayRemind reports whether a reminder may go out now. It waits for another day
// beside a notice about a booked visit, and where the customer was in touch
// today: whoever has just been heard from does not read that nobody heard.
func (d *decision) mayRemind(booked []Notice) bool {
	return !d.r.NoReminders && len(booked) == 0 && !d.inTouch() && d.cfg.Window.Open(d.now.In(d.cfg.Zone))
}

// inTouch reports whether the customer replied today, or heard today that a day
// was booked or called off.
func (d *decision) inTouch() bool {
	for i := range d.r.Answers {
		if civil.FromTime(d.r.Answers[i].At.In(d.cfg.Zone)) == d.today {
			return true
		}
	}
	return slices.ContainsFunc(d.r.Notified, func(h schedule.Notified) bool {
		return h.On == d.today && (h.Step == schedule.StepConfirmation || h.Step == schedule.StepCancellation)
	})
}

// mailable reports whether the customer wants mail and has an address that works.
func mailable(r *schedule.Recipient) bool {
	wants := r.Customer.ContactBy == "email" || r.Customer.ContactBy == ""
	if !wants || r.NoMail || r.Suppressed != "" {
		return false
	}
	_, err := CheckMailAddress(r.Customer.Email)
	return err == nil
}

// decision is the state of one call of Decide.
type decision struct {
	r      *schedule.Recipient
	cfg    PolicyConfig
	now    time.Time
	today  civil.Day
	newest map[noticeKey]schedule.Notified // notice of each subject and step
}

type noticeKey struct {
	subject string
	step    schedule.Step
}

func newDecision(r *schedule.Recipient, cfg PolicyConfig, now time.Time) *decision {
	d := &decision{r: r, cfg: cfg, now: now, today: civil.FromTime(now.In(cfg.Zone)), newest: make(map[noticeKey]schedule.Notified, len(r.Notified))}
	for _, h := range r.Notified {
		k := noticeKey{h.Subject, h.Step}
		if old, ok := d.newest[k]; !ok || h.On > old.On {
			d.newest[k] = h
		}
	}
	return d
}

// notified reports whether the customer has had a notice of a step.
func (d *decision) notified(subject string, s schedule.Step) bool {
	_, ok := d.newest[noticeKey{subject, s}]
	return ok
}

// eachBoat walks the boats in care, in the order given.
func (d *decision) eachBoat(f func(b *schedule.BoatView)) {
	for i := range d.r.Boats {
		if b := &d.r.Boats[i]; (b.Boat.Gone == 0 || b.Boat.Gone > d.today) && !d.sold(b.Boat.ID) {
			f(b)
		}
	}
}

// eachVisit walks the visits for which boats in care come in, in the order given.
func (d *decision) eachVisit(f func(b *schedule.BoatView, v *schedule.VisitView)) {
	d.eachBoat(func(b *schedule.BoatView) {
		for j := range b.Visits {
			if b.Visits[j].Visit.Kind != schedule.Winter { // it comes in with no one: the boat is here
				f(b, &b.Visits[j])
			}
		}
	})
}

// notice puts visits into a notice and derives what hangs on them. The notice
// lapses with the first of its visits' news.
func (d *decision) notice(visits []NoticeVisit, notAfter time.Time, heard []schedule.Notified) Notice {
	slices.SortStableFunc(visits, func(x, y NoticeVisit) int {
		return cmp.Or(cmp.Compare(urgency(y.Step), urgency(x.Step)),
			cmp.Compare(x.Visit.Visit.Day, y.Visit.Visit.Day), cmp.Compare(x.Visit.Visit.ID, y.Visit.Visit.ID))
	})
	n := Notice{Customer: d.r.Customer, Visits: visits, At: d.now, NotAfter: notAfter, Notified: heard}
	if len(visits) > 0 {
		c := &d.r.Customer
		n.Names = append(n.Names, schedule.Named{Standing: c.Email + " " + c.ContactBy})
	}
	for i := range visits {
		v := &visits[i].Visit.Visit
		n.Names = append(n.Names, schedule.Named{ID: v.ID, Standing: v.Standing(d.newestReply(v))})
	}
	for i := range heard {
		heard[i].CustomerID, heard[i].On = d.r.Customer.ID, d.today
		n.Subjects = append(n.Subjects, heard[i].Subject)
		if urgency(heard[i].Step) > urgency(n.Step) {
			n.Step = heard[i].Step
		}
	}
	slices.Sort(n.Subjects)
	n.Subjects = slices.Compact(n.Subjects)
	// The outbox takes no two emails of one key.
	n.Key = d.r.Customer.ID + "|" + strings.Join(n.Subjects, ",") + "|" + string(n.Step)
	return n
}

// urgency orders the steps; a mail goes by the most urgent one it takes.
func urgency(s schedule.Step) int {
	return 1 + slices.Index([]schedule.Step{
		schedule.StepPage, schedule.StepWelcome, schedule.StepSummary, schedule.StepNewLink, schedule.StepNewAddress, schedule.StepCorrection, schedule.StepHours, schedule.StepRenewal,
		schedule.StepInvitation, schedule.StepNudge, schedule.StepWarranty,
		schedule.StepLastCall, schedule.StepOverdue, schedule.StepAsked,
		schedule.StepBooked, schedule.StepConfirmation, schedule.StepCancellation, schedule.StepPassedOn,
		schedule.StepFreeze,
	}, s)
}

// endOf is the last instant of a day in the shop's zone.
func (d *decision) endOf(day civil.Day) time.Time {
	return (day + 1).At(0, 0, d.cfg.Zone).Add(-time.Second)
}
