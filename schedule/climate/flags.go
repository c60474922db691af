package climate

import (
	"cmp"
	"slices"
)

// Drop counts the values that were left out for one reason.
type Drop struct {
	Flag    string // "QFLAG S", "MFLAG L", "range" or "duplicate"
	Count   int
	Meaning string // in plain words
}

// Reasons of our own, beside the flags that the files carry.
const (
	dropRange     = "range"
	dropDuplicate = "duplicate"
	dropLagged    = "MFLAG L"
)

// meaning explains a reason for leaving a value out. The letters are those of
// the GHCN-Daily readme.
func meaning(flag string) string {
	switch flag {
	case "QFLAG D":
		return "failed the duplicate check"
	case "QFLAG G":
		return "failed the gap check"
	case "QFLAG I":
		return "failed the internal consistency check"
	case "QFLAG K":
		return "failed the streak check"
	case "QFLAG L":
		return "failed the check on the length of a multiday period"
	case "QFLAG M":
		return "failed the mega-consistency check"
	case "QFLAG N":
		return "failed the naught check"
	case "QFLAG O":
		return "failed the climatological outlier check"
	case "QFLAG R":
		return "failed the lagged range check"
	case "QFLAG S":
		return "failed the spatial consistency check"
	case "QFLAG T":
		return "failed the temporal consistency check"
	case "QFLAG W":
		return "temperature too warm for snow"
	case "QFLAG X":
		return "failed the bounds check"
	case "QFLAG Z":
		return "flagged after an official investigation"
	case dropLagged:
		return "may have been put down for the wrong day"
	case dropRange:
		return "colder or warmer than any night on record"
	case dropDuplicate:
		return "a second value for the same day; the colder one was kept"
	}
	return "a quality flag that the readme does not explain"
}

// doubt returns the reason why a value with these flags is not used, or "".
// Any quality flag will do: blank is the only mark of a value that passed.
func doubt(mflag, qflag string) string {
	switch {
	case qflag != "":
		return "QFLAG " + qflag
	case mflag == "L":
		return dropLagged
	}
	return ""
}

func dropList(counts map[string]int) []Drop {
	var ds []Drop
	for flag, n := range counts {
		ds = append(ds, Drop{flag, n, meaning(flag)})
	}
	slices.SortFunc(ds, func(a, b Drop) int { return cmp.Compare(a.Flag, b.Flag) })
	return ds
}
