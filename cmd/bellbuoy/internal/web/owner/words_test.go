package owner

import (
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule/returns"
)

// TestVerdict: the sentence says no more than the interval does.
func TestVerdict(t *testing.T) {
	season := func(heard int, by, low, high float64) figures.HoldoutSeason {
		return figures.HoldoutSeason{Notified: figures.HoldoutSide{All: figures.Figure{Count: heard}}, CameMore: returns.Effect{Known: true, By: by, Low: low, High: high}}
	}
	for _, c := range []struct {
		name string
		lots figures.HoldoutSeason
		want string
	}{
		{"nobody", figures.HoldoutSeason{}, "Too few customers in either group to say anything yet."},
		{"more", season(200, 0.12, 0.03, 0.21), "The second reminder brings customers in: of the 200 who got it about 24 returned because of it (95% interval: 6 to 42)."},
		{"fewer", season(200, -0.12, -0.21, -0.03), "Fewer of those who got the second reminder returned, more than chance explains: about 24 of 200 stayed away because of it (95% interval: 6 to 42)."},
		{"chance", season(80, 0.09, -0.22, 0.37), "It is not clear yet whether the second reminder brings anybody in: the difference may be chance (of a hundred reminded, between 22 fewer and 37 more returned). More seasons or a larger comparison group would show it."},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := verdict(c.lots); got != c.want {
				t.Errorf("%s\nwant %s", got, c.want)
			}
		})
	}
}
