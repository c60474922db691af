package site

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store/report"
)

// savedSettings is what the change history calls a change of settings on a page.
const savedSettings = "save settings"

// SettingWords are a setting's value as people read it, "" for none.
func (s *Site) SettingWords(of *config.Setting, v any) string {
	if list, ok := v.([]any); ok {
		var all []string
		for _, one := range list {
			all = append(all, s.settingText(of, one))
		}
		return strings.Join(all, ", ")
	}
	return s.settingText(of, v)
}

func (s *Site) settingText(of *config.Setting, v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case int64:
		return s.settingNumber(of, float64(v))
	case float64:
		return s.settingNumber(of, v)
	}
	text := fmt.Sprint(v)
	switch of.Kind {
	case config.OneOf:
		for _, c := range of.Of {
			if c.Value == text {
				return c.Words
			}
		}
	case config.Clock, config.Clocks:
		if t, err := time.Parse("15:04", text); err == nil {
			return s.Format().Clock(t.Hour()*60 + t.Minute())
		}
	case config.MonthDay:
		if md, err := civil.ParseMonthDay(text); err == nil && text != "" {
			return s.Format().OfYear(md)
		}
	case config.Days:
		if d, err := civil.Parse(text); err == nil {
			return s.Format().Date(d)
		}
	}
	return words.OneLine(text)
}

func (s *Site) settingNumber(of *config.Setting, v float64) string {
	if of.Kind == config.Share {
		return SettingNumber(math.Round(v*1e6)/1e4) + "%"
	}
	return SettingNumber(v)
}

// SettingNumber writes a number as the form fields of settings have it.
func SettingNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// settingChanges are the lines of a change of settings, in the order of the pages.
func (s *Site) settingChanges(c *report.Change) []string {
	var was, is map[string]any
	if json.Unmarshal([]byte(c.Before), &was) != nil || json.Unmarshal([]byte(c.After), &is) != nil {
		return nil
	}
	var out []string
	for _, of := range config.Settings() {
		for _, addr := range of.Addresses(is) {
			title := words.LowerFirst(of.Title)
			if block := config.BlockOf(addr); block != "" {
				title = block + ", " + title
			}
			out = append(out, fmt.Sprintf("%s: %s, before: %s", title, orNone(s.SettingWords(&of, is[addr])), orNone(s.SettingWords(&of, was[addr]))))
		}
	}
	return out
}

// orNone says of a value that is empty that it is; 0 is a value here.
func orNone(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}
