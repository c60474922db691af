package site

import (
	"context"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// letterStates are all that a letter can be in, so that a state without letters
// reads as 0 and not as missing.
var letterStates = []schedule.MessageState{
	schedule.MessageQueued, schedule.MessageLeased, schedule.MessageSent, schedule.MessageUncertain,
	schedule.MessageDeferred, schedule.MessageRefused, schedule.MessageExpired, schedule.MessageHeld,
}

// shopNumbers tells monitoring how the shop's own work stands. The figures are
// read when they are asked for.
type shopNumbers struct {
	s                       *Site
	letters, sending, dirty *prometheus.Desc
	build, last, lists      *prometheus.Desc
}

func (n *shopNumbers) Describe(ch chan<- *prometheus.Desc) {
	ch <- n.letters
	ch <- n.sending
	ch <- n.dirty
	ch <- n.build
	ch <- n.last
	ch <- n.lists
}

// waitForNumbers bounds how long monitoring may keep the database busy.
const waitForNumbers = 5 * time.Second

// mostUnplanned is up to where boats that wait for their plan are counted.
const mostUnplanned = 10_000

func (n *shopNumbers) Collect(ch chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), waitForNumbers)
	defer cancel()
	db := n.s.App.DB
	ch <- prometheus.MustNewConstMetric(n.build, prometheus.GaugeValue, 1, n.s.Version, n.s.Revision)
	n.moments(ctx, ch)
	n.lengths(ctx, ch)
	counts, err := outbox.MessageCounts(ctx, db)
	if err != nil {
		ch <- prometheus.NewInvalidMetric(n.letters, err)
	}
	for _, st := range letterStates {
		ch <- prometheus.MustNewConstMetric(n.letters, prometheus.GaugeValue, float64(counts[st]), string(st))
	}
	st, err := outbox.Sending(ctx, db)
	if err != nil {
		ch <- prometheus.NewInvalidMetric(n.sending, err)
		return
	}
	open := 0.0
	if st.Open() && (n.s.App.MaySend == nil || n.s.App.MaySend()) {
		open = 1
	}
	ch <- prometheus.MustNewConstMetric(n.sending, prometheus.GaugeValue, open)
	ids, err := db.DirtyBoats(ctx, mostUnplanned)
	if err != nil {
		ch <- prometheus.NewInvalidMetric(n.dirty, err)
		return
	}
	ch <- prometheus.MustNewConstMetric(n.dirty, prometheus.GaugeValue, float64(len(ids)))
}

// moments are when something last went well; what never did is left out.
func (n *shopNumbers) moments(ctx context.Context, ch chan<- prometheus.Metric) {
	when := map[string]time.Time{}
	if n.s.Pulse != nil {
		when["turn"] = n.s.Pulse.Good()
	}
	var err error
	if when["backup"], err = n.s.App.LastBackup(); err != nil {
		ch <- prometheus.NewInvalidMetric(n.last, err)
	}
	if when["message"], err = outbox.LastSent(ctx, n.s.App.DB); err != nil {
		ch <- prometheus.NewInvalidMetric(n.last, err)
	}
	for what, at := range when {
		if !at.IsZero() {
			ch <- prometheus.MustNewConstMetric(n.last, prometheus.GaugeValue, float64(at.Unix()), what)
		}
	}
}

// lengths are how many visits stand on the desk's lists.
func (n *shopNumbers) lengths(ctx context.Context, ch chan<- prometheus.Metric) {
	today := civil.FromTime(n.s.Now())
	sections, err := n.s.App.DueWeek(ctx, report.WeekQuery{Week: today.Week(), Today: today, Limit: 1})
	if err != nil {
		ch <- prometheus.NewInvalidMetric(n.lists, err)
	}
	for _, s := range sections {
		ch <- prometheus.MustNewConstMetric(n.lists, prometheus.GaugeValue, float64(s.Count), string(s.Part))
	}
	late, err := n.s.App.Late(ctx, today)
	if err != nil {
		ch <- prometheus.NewInvalidMetric(n.lists, err)
		return
	}
	ch <- prometheus.MustNewConstMetric(n.lists, prometheus.GaugeValue, float64(len(late.Visits)), "will-miss-deadline")
}

// metrics answers monitoring: the shop's numbers beside those of the process.
func (s *Site) metrics() http.Handler {
	reg := prometheus.NewRegistry()
	reg.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), &shopNumbers{
		s:       s,
		letters: prometheus.NewDesc("bellbuoy_emails", "Emails in the outbox by state.", []string{"state"}, nil),
		sending: prometheus.NewDesc("bellbuoy_sending_open", "1 while email is sent: switched on, not on hold, not paused, and with the lease if the settings name one.", nil, nil),
		dirty:   prometheus.NewDesc("bellbuoy_boats_unplanned", "Boats whose facts changed since their last plan, counted up to 10000.", nil, nil),
		build:   prometheus.NewDesc("bellbuoy_build_info", "1, with the version of the program and the commit that it was built from.", []string{"version", "revision"}, nil),
		last:    prometheus.NewDesc("bellbuoy_last_good_timestamp_seconds", "When planning and reminders last ended well (turn), the newest backup was made, and the last email was sent (message).", []string{"what"}, nil),
		lists:   prometheus.NewDesc("bellbuoy_list_visits", "Visits on the parts of this week's due list, and those that will miss their deadline.", []string{"list"}, nil),
	})
	return promhttp.HandlerFor(reg, promhttp.HandlerOpts{})
}
