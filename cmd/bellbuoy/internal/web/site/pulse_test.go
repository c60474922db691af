package site

import (
	"testing"
	"time"
)

func TestPulse(t *testing.T) {
	begun := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name      string
		good, now time.Duration // after the beginning; good -1 for never
		want      bool
	}{
		{"just begun", -1, time.Minute, true},
		{"no turn ends well", -1, 11 * time.Minute, false},
		{"turns end well", 30 * time.Minute, 31 * time.Minute, true},
		{"turns fail since a while", 30 * time.Minute, 41 * time.Minute, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := &Pulse{}
			p.Begin(begun)
			if tt.good >= 0 {
				p.Turn(begun.Add(tt.good))
			}
			if got := p.Well(begun.Add(tt.now)); got != tt.want {
				t.Errorf("well is %v, want %v", got, tt.want)
			}
		})
	}
}
