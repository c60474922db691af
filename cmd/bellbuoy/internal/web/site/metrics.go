package site

import (
	"context"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"bellbuoy/schedule"
	"bellbuoy/store/outbox"
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
}

func (n *shopNumbers) Describe(ch chan<- *prometheus.Desc) {
	ch <- n.letters
	ch <- n.sending
	ch <- n.dirty
}

// waitForNumbers bounds how long monitoring may keep the database busy.
const waitForNumbers = 5 * time.Second

// mostUnplanned is up to where boats that wait for their plan are counted.
const mostUnplanned = 10_000

func (n *shopNumbers) Collect(ch chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), waitForNumbers)
	defer cancel()
	db := n.s.App.DB
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
	if st.Open() {
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

// metrics answers monitoring: the shop's numbers beside those of the process.
func (s *Site) metrics() http.Handler {
	reg := prometheus.NewRegistry()
	reg.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), &shopNumbers{
		s:       s,
		letters: prometheus.NewDesc("bellbuoy_emails", "Emails in the outbox by state.", []string{"state"}, nil),
		sending: prometheus.NewDesc("bellbuoy_sending_open", "1 while email is sent: switched on, not on hold, not paused.", nil, nil),
		dirty:   prometheus.NewDesc("bellbuoy_boats_unplanned", "Boats whose facts changed since their last plan, counted up to 10000.", nil, nil),
	})
	return promhttp.HandlerFor(reg, promhttp.HandlerOpts{})
}
