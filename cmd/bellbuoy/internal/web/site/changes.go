package site

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"

	"bellbuoy/schedule/words"
	"bellbuoy/store/report"
)

// ChangeRow is a line of the change history.
type ChangeRow struct {
	report.Change
	Words []string // what is different now: "phone: 555-0101, now 555-0199"; none where nothing was before
}

// ChangeRows words changes, at most so many; more is the id before which others
// are found, 0 if there are none.
func ChangeRows(all []report.Change, most int) (rows []ChangeRow, more int64) {
	if len(all) > most {
		all, more = all[:most], all[most-1].ID
	}
	for _, c := range all {
		rows = append(rows, ChangeRow{c, differences(c.Before, c.After)})
	}
	return rows, more
}

// differences words in which fields two facts, written as JSON, differ.
func differences(before, after string) []string {
	var was, is map[string]any
	if json.Unmarshal([]byte(before), &was) != nil || json.Unmarshal([]byte(after), &is) != nil || was == nil || is == nil {
		return nil
	}
	all := maps.Clone(was)
	maps.Copy(all, is)
	var out []string
	for _, key := range slices.Sorted(maps.Keys(all)) {
		a, b := fieldText(was[key]), fieldText(is[key])
		if a != b {
			out = append(out, fieldName(key)+": "+orNothing(a)+", now "+orNothing(b))
		}
	}
	return out
}

func fieldText(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return v
	case map[string]any, []any:
		b, _ := json.Marshal(v) // it was JSON
		return string(b)
	}
	return fmt.Sprint(v)
}

func orNothing(s string) string {
	if s == "" || s == "0" {
		return "nothing"
	}
	return s
}

// fieldName writes a field's name in words: "PostalCode" is "postal code".
func fieldName(key string) string {
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
