package mapping

import (
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// The parts of a mapping that a person may change. Words are followed by their
// field.
const (
	PartRegion   = "region"
	PartTable    = "table" // whether it is read
	PartColumns  = "columns"
	PartDates    = "dates"
	PartNumbers  = "numbers"
	PartWords    = "words "
	PartContains = "contains"
	PartDefaults = "defaults"
)

// What becomes of a table.
const (
	ReadTable = "read"
	SkipTable = "leave out"
)

// Question is a setting of a draft: what it is now, and by what evidence. It is
// open where Value is [Open].
type Question struct {
	Table, Part, Key string
	Value            string
	Evidence         string
	Choices          []string // what it may be, none if anything
}

// Answer puts a value in the place of a question's.
func (m *Mapping) Answer(q Question, value string) {
	if q.Part == PartRegion {
		m.PhoneRegion = value
		return
	}
	for i := range m.Sheets {
		s := &m.Sheets[i]
		if s.Name != q.Table {
			continue
		}
		switch {
		case q.Part == PartTable:
			s.Skip = value == SkipTable
		case q.Part == PartColumns:
			put(&s.Columns, q.Key, value)
		case q.Part == PartDates:
			put(&s.Dates, q.Key, value)
		case q.Part == PartNumbers:
			put(&s.Numbers, q.Key, value)
		case q.Part == PartContains:
			put(&s.Contains, q.Key, value)
		case q.Part == PartDefaults:
			put(&s.Defaults, q.Key, value)
		case strings.HasPrefix(q.Part, PartWords):
			field := strings.TrimPrefix(q.Part, PartWords)
			words := s.Words[field]
			put(&words, q.Key, value)
			put(&s.Words, field, words)
		}
	}
}

func put[V any](to *map[string]V, key string, value V) {
	if *to == nil {
		*to = map[string]V{}
	}
	(*to)[key] = value
}

// Text writes a mapping as [Parse] reads it.
func (m *Mapping) Text() (string, error) {
	b, err := toml.Marshal(m)
	return string(b), err
}
