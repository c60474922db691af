package feed

// What the tests of feeds look at from outside the package.
var (
	Fold    = fold
	Note    = note
	OneLine = oneLine
)

// Unfold undoes the folding of a calendar, as its checker reads it, and
// returns the lines as name, parameters and value.
func Unfold(body []byte) ([][3]string, error) {
	lines, err := icsReadLines(body)
	out := make([][3]string, len(lines))
	for i, l := range lines {
		out[i] = [3]string{l.name, l.params, l.value}
	}
	return out, err
}
