package schedule_test

import (
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/rules"
)

// BenchmarkPlan plans the varied boats in turn, with the built-in catalogue.
func BenchmarkPlan(b *testing.B) {
	cat, err := rules.Default()
	if err != nil {
		b.Fatal(err)
	}
	pl := schedule.NewPlanner(cat, schedule.DefaultSettings())
	boats := variedBoats()
	items := 0
	for i := range boats {
		boats[i].f.Prior = pl.Plan(boats[i].f, d(boats[i].today)).Visits
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		v := &boats[n%len(boats)]
		p := pl.Plan(v.f, d(v.today))
		items += len(p.Items)
		n++
	}
	b.ReportMetric(float64(items)/float64(n), "items/boat")
}
