package site

import (
	"cmp"
	"context"
	"strings"
	"unicode"

	"bellbuoy/schedule/words"
	"bellbuoy/store/report"
)

// ChangeRow is a line of the change history.
type ChangeRow struct {
	report.Change
	Did   string   // "recorded work"
	Words []string // what of: "Engine oil", "phone: 555-0199, before: 555-0101"
}

// ChangeRows words changes, at most so many; more is the id before which others
// are found, 0 if there are none.
func (s *Site) ChangeRows(ctx context.Context, all []report.Change, most int) (rows []ChangeRow, more int64, err error) {
	if len(all) > most {
		all, more = all[:most], all[most-1].ID
	}
	var boats []string
	for i := range all {
		boats = append(boats, all[i].BoatID)
	}
	parts, err := report.PartNames(ctx, s.App.DB, boats)
	for i := range all {
		c := &all[i]
		if c.BoatID != "" {
			parts[c.BoatID] = "the hull"
		}
		row := ChangeRow{*c, didWords(c), nil}
		if c.What == savedSettings {
			row.Words = s.settingChanges(c)
		} else {
			row.Words = s.differences(c.Before, c.After, parts)
		}
		rows = append(rows, row)
	}
	return rows, more, err
}

// didWords say what somebody did.
func didWords(c *report.Change) string {
	if c.Before == "" {
		if w, ok := added[c.What]; ok {
			return w
		}
	}
	return cmp.Or(did[c.What], c.What)
}

func orNothing(s string) string {
	if s == "" || s == "0" {
		return "nothing"
	}
	return s
}

// fieldName writes a field's name in words: "PostalCode" is "postal code".
func fieldName(key string) string {
	if name := fields[key]; name != "" {
		return name
	}
	var b strings.Builder
	for i, r := range key {
		if i > 0 && unicode.IsUpper(r) && unicode.IsLower(rune(key[i-1])) {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
	}
	if s := b.String(); strings.ToUpper(s) != s {
		return strings.ToLower(s)
	}
	return words.OneLine(key)
}
