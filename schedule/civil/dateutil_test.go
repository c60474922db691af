package civil_test

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
)

// relativedelta is the outside witness for month arithmetic: python3-dateutil
// clamps a day that the target month does not have, as we promise to.
const relativedelta = `
import sys, datetime
from dateutil.relativedelta import relativedelta
for line in sys.stdin:
    day, months = line.split()
    print(datetime.date.fromisoformat(day) + relativedelta(months=int(months)))
`

func TestMonthArithmeticAgreesWithDateutil(t *testing.T) {
	const python = "/usr/bin/python3"
	testkit.Needs(t, exec.Command(python, "-c", "import dateutil").Run() == nil, "Debian's python3-dateutil")
	rng := rand.New(rand.NewPCG(1, 2))
	var in, want strings.Builder
	for range 10_000 {
		d := civil.Of(1970, 1, 1) + civil.Day(rng.IntN(60_000))
		n := rng.IntN(481) - 240
		fmt.Fprintln(&in, d, n)
		fmt.Fprintln(&want, d.AddMonths(n))
	}
	cmd := exec.Command(python, "-c", relativedelta)
	cmd.Stdin = strings.NewReader(in.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	got, ours, asked := lines(string(out)), lines(want.String()), lines(in.String())
	if len(got) != 10_000 {
		t.Fatalf("%d answers for 10000 questions", len(got))
	}
	for i := range got {
		if got[i] != ours[i] {
			t.Errorf("%s: dateutil says %s, we say %s", asked[i], got[i], ours[i])
		}
	}
}

func lines(s string) []string {
	var out []string
	for sc := bufio.NewScanner(strings.NewReader(s)); sc.Scan(); {
		out = append(out, sc.Text())
	}
	return out
}
