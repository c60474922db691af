package config

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// renamed are the settings that have another name since the words of the pages
// changed. The old names are read for one more release.
func renamed() map[string]string {
	return map[string]string{
		"place.lay_up":               "winterize_by",
		"plan.lay_up_oil_hours":      "winterization_oil_hours",
		"weeks.lay_up_first_weeks":   "winterization_first_weeks",
		"weeks.lay_up_margin_weeks":  "winterization_margin_weeks",
		"reminders.invitation_days":  "first_reminder_days",
		"reminders.nudge_days":       "second_reminder_days",
		"reminders.last_call_days":   "final_reminder_days",
		"reminders.overdue_days":     "overdue_notice_days",
		"reminders.daily_cap":        "daily_limit",
		"reminders.hold_out_percent": "comparison_percent",
	}
}

// rename puts the new names in the place of the old ones, on the same lines, and
// says which it found and where. What is not TOML is left for the reader to
// refuse.
func rename(name string, data []byte) ([]byte, []string) {
	type found struct {
		at  int // of the last part of the key
		old string
		new string
	}
	var all []found
	table := ""
	names := renamed()
	var p unstable.Parser
	p.Reset(data)
	for p.NextExpression() {
		e := p.Expression()
		var path []string
		var last *unstable.Node
		if e.Kind == unstable.KeyValue || e.Kind == unstable.Table || e.Kind == unstable.ArrayTable {
			for it := e.Key(); it.Next(); {
				last = it.Node()
				path = append(path, string(last.Data))
			}
		}
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = strings.Join(path, ".") + "."
		case unstable.KeyValue:
			key := strings.TrimPrefix(table+strings.Join(path, "."), ".")
			if to := names[key]; to != "" {
				all = append(all, found{int(p.Range(last.Data).Offset), key, to})
			}
		}
	}
	var notes []string
	out := slices.Clone(data)
	for _, f := range all {
		section, _, _ := strings.Cut(f.old, ".")
		notes = append(notes, fmt.Sprintf("%s:%d: %s is called %s.%s now; the old name is read for one more release",
			name, 1+bytes.Count(data[:f.at], []byte("\n")), f.old, section, f.new))
	}
	slices.Reverse(all)
	for _, f := range all {
		_, old, _ := strings.Cut(f.old, ".")
		out = slices.Concat(out[:f.at], []byte(f.new), out[f.at+len(old):])
	}
	return out, notes
}
