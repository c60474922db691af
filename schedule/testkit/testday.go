// Package testkit is what the tests of every room share: it asks for outside
// programs, and moves the days that tests are written for. Tests which meet a real
// clock, one of a browser, a mail server or a calendar program, take their
// days from here: BELLBUOY_TEST_DAY=+5y or -5y moves them by whole years while
// the outside program keeps its clock, and shows now what would break then.
package testkit

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/civil"
)

// Variable names the environment variable: a sign, a number of years, "y".
const Variable = "BELLBUOY_TEST_DAY"

// Years is by how many years the days are moved, 0 without [Variable].
func Years() int {
	said := os.Getenv(Variable)
	if said == "" {
		return 0
	}
	years, err := parse(said)
	if err != nil {
		panic(err)
	}
	return years
}

var form = regexp.MustCompile(`^[+-][1-9][0-9]?y$`)

func parse(said string) (years int, err error) {
	if !form.MatchString(said) {
		return 0, fmt.Errorf("%s=%q: want whole years with a sign, +5y or -5y", Variable, said)
	}
	return strconv.Atoi(strings.TrimSuffix(said, "y"))
}

// Day is a day, moved; 29 February becomes the 28th where the year has none.
func Day(year int, month time.Month, day int) civil.Day {
	return move(civil.Of(year, month, day), Years())
}

func move(d civil.Day, years int) civil.Day { return d.AddMonths(12 * years) }

// dated are the days of a text, and its months, weeks and seasons: 2027-04-20,
// 2027-04, 2027-W17, 2027-spring.
var dated = regexp.MustCompile(`\b(?:19|20)[0-9]{2}-(?:(?:0[1-9]|1[0-2])(?:-(?:0[1-9]|[12][0-9]|3[01]))?|W[0-5][0-9]|spring|autumn)\b`)

// Text moves every day of a text that is written as ISO 8601 writes it, and the
// year of every month, week and season.
func Text(s string) string { return text(s, Years()) }

func text(s string, years int) string {
	if years == 0 {
		return s
	}
	return dated.ReplaceAllStringFunc(s, func(found string) string {
		d, err := civil.Parse(found)
		if err != nil { // no day, or one that no calendar has
			year, _ := strconv.Atoi(found[:4]) // four digits
			return fmt.Sprint(year+years) + found[4:]
		}
		return move(d, years).String()
	})
}

// Folder is a folder of files with every day in them moved; without
// [Variable] it is the folder itself.
func Folder(t testing.TB, dir string) string {
	t.Helper()
	if Years() == 0 {
		return dir
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	moved := t.TempDir()
	for _, f := range files {
		b, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(moved, f.Name()), []byte(Text(string(b))), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return moved
}
