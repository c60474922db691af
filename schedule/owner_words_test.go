package schedule_test

import (
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/rules"
)

// TestOwnersViewHasOwnersWords plans boats of every sort: what an owner is shown
// has his words, and no caution about his life is lost to a cap.
func TestOwnersViewHasOwnersWords(t *testing.T) {
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	pl := schedule.NewPlanner(cat, schedule.DefaultSettings())
	lives := 0
	for _, b := range variedBoats() {
		plan := pl.Plan(b.f, d(b.today))
		view := pl.View(b.f, &plan)
		for _, v := range view.ForOwner().Visits {
			few := schedule.OwnerCautions(v.Lines, 1)
			for i := range v.Lines {
				l := &v.Lines[i]
				for _, s := range append([]string{l.Title, l.Consequence}, l.Cautions...) {
					for _, w := range []string{"cranking with the plugs", "Write down", "negative cable", "(raw-water", "by the owner"} {
						if strings.Contains(s, w) {
							t.Errorf("%s: an owner reads %q", b.name, s)
						}
					}
				}
				for _, c := range l.OwnerCautions {
					if lives++; c.Life && !slices.Contains(few, c.Text) {
						t.Errorf("%s: a cap of one drops %q", b.name, c.Text)
					}
				}
			}
		}
		for i := range view.Visits {
			for _, l := range view.Visits[i].Lines {
				if l.OwnerTitle != l.Title && slices.ContainsFunc(view.ForOwner().Visits[i].Lines, func(o schedule.Line) bool { return o.Title == l.Title && o.Item.Key() == l.Item.Key() }) {
					t.Errorf("%s: the owner reads the technician's %q", b.name, l.Title)
				}
			}
		}
	}
	if lives == 0 {
		t.Error("no caution for owners at all")
	}
}
