package app_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/level"
)

// BenchmarkYear lets the demo shop live for a year with email switched on, after a
// year in which it settled down: go test -run xxx -bench Year -benchtime 1x. It
// tells what that year was like for its customers, and what its weeks held.
func BenchmarkYear(b *testing.B) {
	for b.Loop() {
		s := newDecade(b, 120)
		for range 52 {
			s.week()
		}
		s.switchOn()
		came, boats := s.came, len(s.ids)
		var layUps, august int
		var picture []string
		for range 52 {
			s.week()
			s.remind()
			taken := 0
			for _, v := range visits(b, s.h) {
				if v.Week != s.today.Week() {
					continue
				}
				taken += v.Labour
				if v.Kind == schedule.LayUp && v.Deadline >= s.today {
					layUps++
					if s.today.Month() == time.August {
						august++
					}
				}
			}
			weeks, err := s.h.CapacityLeft(b.Context(), s.today, s.today.Week(), s.today.Week())
			if err != nil {
				b.Fatal(err)
			}
			if has := weeks[0].Total()[level.Labor]; has > 0 && taken > 0 {
				picture = append(picture, fmt.Sprintf("%s %d", s.today.String()[5:], 100*taken/has))
			}
		}
		messages, most, customers := 0, 0, 0
		s.eachCustomer(func(_ int, _ schedule.Customer, own []schedule.Message) {
			messages, most, customers = messages+len(own), max(most, len(own)), customers+1
		})
		b.Logf("%d boats, %d customers: %d messages, %.1f a customer and at most %d; %.2f visits a boat; %d of %d winterizations in August",
			boats, customers, messages, float64(messages)/float64(customers), most, float64(s.came-came)/float64(boats), august, layUps)
		b.Logf("planned on its Monday, percent of the week's available hours: %s", strings.Join(picture, ", "))
		b.ReportMetric(float64(messages)/float64(customers), "messages/customer")
		b.ReportMetric(float64(most), "most-messages")
		b.ReportMetric(float64(s.came-came)/float64(boats), "visits/boat")
		b.ReportMetric(100*float64(august)/float64(max(layUps, 1)), "%august")
	}
}
