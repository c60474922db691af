package notify

// What the tests of feeds look at from outside the package.
var (
	FeedFold  = feedFold
	FeedNote  = feedNote
	FeedLine  = feedOneLine
	FeedAbout = feedAbout
)

// FeedUnfold undoes the folding of a calendar, as its checker reads it, and
// returns the lines as name, parameters and value.
func FeedUnfold(body []byte) ([][3]string, error) {
	lines, err := icsReadLines(body)
	out := make([][3]string, len(lines))
	for i, l := range lines {
		out[i] = [3]string{l.name, l.params, l.value}
	}
	return out, err
}
