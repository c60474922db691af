package config_test

import (
	"reflect"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/config"
)

// TestOldNamesAreRead reads a file with the names of the release before, and
// wants the values where the new ones put them and every old name said.
func TestOldNamesAreRead(t *testing.T) {
	old := `[shop]
name = "A shop"
[reminders]
nudge_days = 20 # invitation_days = 3 stands in a remark
"last_call_days" = 6
hold_out_percent = 10
[[place]]
name = "Our lake"
launch = "05-15"
lay_up = "10-10"
`
	c, err := config.Parse("/etc/shop.toml", []byte(old))
	if err != nil {
		t.Fatal(err)
	}
	if r := c.Reminders; r.NudgeDays != 20 || r.LastCallDays != 6 || r.HoldOutPercent != 10 || r.InvitationDays != 42 {
		t.Errorf("%+v", r)
	}
	if got := c.Places[0].LayUp.String(); got != "10-10" {
		t.Errorf("winterize by %s", got)
	}
	want := []string{
		"shop.toml:4: reminders.nudge_days is called reminders.second_reminder_days now; the old name is read for one more release",
		"shop.toml:5: reminders.last_call_days is called reminders.final_reminder_days now; the old name is read for one more release",
		"shop.toml:6: reminders.hold_out_percent is called reminders.comparison_percent now; the old name is read for one more release",
		"shop.toml:10: place.lay_up is called place.winterize_by now; the old name is read for one more release",
	}
	if !reflect.DeepEqual(c.Renamed, want) {
		t.Errorf("said %q\nwant %q", c.Renamed, want)
	}
	if c, err := config.Parse("x.toml", config.Template); err != nil || c.Renamed != nil {
		t.Errorf("the template: %v, %v", c.Renamed, err)
	}
	both := "[reminders]\nnudge_days = 20\nsecond_reminder_days = 20\n"
	if _, err := config.Parse("x.toml", []byte(both)); err == nil {
		t.Error("both names at once are taken")
	}
}
