package office

import (
	"errors"
	"net/http"
	"slices"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

const (
	// rehearsalMost is how many mails a day are named, previewMost how many are
	// shown whole: a page is read by a person.
	rehearsalMost, previewMost = 15, 4
)

// rehearsalPage shows what mail would go out, and the switch.
type rehearsalPage struct {
	Sending   outbox.SendingState
	Counts    []letterCount
	Uncertain []schedule.Message
	Withdrawn []schedule.Message // the newest
	Doubted   []schedule.Message // the desk is to say whether their addresses are dead
	Span      int                // days looked ahead
	Spans     []int
	Days      []rehearsalDay
	Total     int
	NoSender  bool // the settings name no sender
	MaySwitch bool
}

type letterCount struct {
	State schedule.MessageState
	N     int
}

type rehearsalDay struct {
	Day           civil.Day
	Mails         []rehearsedMail
	More, Waiting int
}

type rehearsedMail struct {
	Step     schedule.Step
	Customer schedule.Customer
	Boats    []string
	Preview  string // "" beyond the first few
}

func (s pages) rehearsal(r *http.Request) (site.Response, error) {
	p := rehearsalPage{Span: 7, Spans: []int{1, 7, 14, 31}, NoSender: s.App.Config.Mail.From == ""}
	if n, err := strconv.Atoi(r.FormValue("days")); err == nil && slices.Contains(p.Spans, n) {
		p.Span = n
	}
	who, _ := site.StaffOf(r)
	p.MaySwitch = who.Level() >= site.Owner
	var err error
	if p.Sending, err = outbox.Sending(r.Context(), s.App.DB); err != nil {
		return site.Response{}, err
	}
	if err := s.fillLetters(r, &p); err != nil {
		return site.Response{}, err
	}
	days, err := s.preview.Of(r.Context(), s.Site, strconv.Itoa(p.Span), func() ([]notify.Rehearsal, error) {
		return s.App.Rehearse(r.Context(), s.Today(), s.Today()+civil.Day(p.Span-1))
	})
	if err != nil {
		return site.Response{}, err
	}
	previews := 0
	for _, d := range days {
		line := rehearsalDay{Day: d.Day, Waiting: d.Waiting, More: max(0, len(d.Notices)-rehearsalMost)}
		p.Total += len(d.Notices)
		for i := range d.Notices[:min(len(d.Notices), rehearsalMost)] {
			m, err := s.rehearsed(r, &d.Notices[i], !p.NoSender && previews < previewMost)
			if err != nil {
				return site.Response{}, err
			}
			previews++
			line.Mails = append(line.Mails, m)
		}
		p.Days = append(p.Days, line)
	}
	return site.Response{Page: "email.html", Data: &p}, nil
}

func (s pages) fillLetters(r *http.Request, p *rehearsalPage) error {
	counts, err := outbox.MessageCounts(r.Context(), s.App.DB)
	if err != nil {
		return err
	}
	for _, st := range []schedule.MessageState{
		schedule.MessageQueued, schedule.MessageDeferred, schedule.MessageHeld, schedule.MessageSent,
		schedule.MessageUncertain, schedule.MessageRefused, schedule.MessageExpired, schedule.MessageWithdrawn,
	} {
		if counts[st] > 0 {
			p.Counts = append(p.Counts, letterCount{st, counts[st]})
		}
	}
	if p.Doubted, err = outbox.Doubted(r.Context(), s.App.DB); err != nil {
		return err
	}
	for state, to := range map[schedule.MessageState]*[]schedule.Message{schedule.MessageUncertain: &p.Uncertain, schedule.MessageWithdrawn: &p.Withdrawn} {
		if *to, err = outbox.Messages(r.Context(), s.App.DB, outbox.MessageQuery{State: state, Limit: 20}); err != nil {
			return err
		}
	}
	return nil
}

// rehearsed words one mail.
func (s pages) rehearsed(r *http.Request, n *notify.Notice, whole bool) (m rehearsedMail, err error) {
	m = rehearsedMail{Step: n.Step, Customer: n.Customer, Boats: n.About()}
	if whole {
		m.Preview, err = s.App.Preview(r.Context(), n)
	}
	return m, err
}

// switchMail takes the owner's switch.
func (s pages) switchMail(r *http.Request) (site.Response, error) {
	var note string
	var err error
	switch r.PostFormValue("do") {
	case "on":
		if s.App.Config.Mail.From == "" {
			return site.Response{}, site.NewProblem(http.StatusConflict, "Set mail.from in the settings first: customers must see who writes to them.")
		}
		note, err = "Sending is on; the first days are limited.", s.App.SwitchSending(r.Context(), s.Now(), site.Actor(r), true)
	case "off":
		note, err = "Sending is off; nothing is queued or sent.", s.App.SwitchSending(r.Context(), s.Now(), site.Actor(r), false)
	case "release":
		note, err = "Sending has resumed.", s.App.Release(r.Context(), s.Now(), site.Actor(r))
	default:
		err = site.NewProblem(http.StatusBadRequest, "The form is incomplete. Press one of its buttons.")
	}
	return site.Response{To: "/email", Note: note}, err
}

// judgeRefused takes the desk's word on the addresses that the mail server
// refused.
func (s pages) judgeRefused(r *http.Request) (site.Response, error) {
	do := r.PostFormValue("do")
	note := map[string]string{
		"dead":  "No more email goes to those addresses; their customers are on the call list.",
		"again": "Those emails are queued again.",
	}[do]
	if note == "" {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form is incomplete. Press one of its buttons.")
	}
	err := s.App.JudgeRefused(r.Context(), s.Now(), site.Actor(r), do == "dead")
	if errors.Is(err, store.ErrRefused) {
		return site.Response{}, site.NewProblem(http.StatusConflict, "No refused address is waiting for a decision: somebody has just made it.")
	}
	return site.Response{To: "/email", Note: note}, err
}
