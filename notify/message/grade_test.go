package message_test

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var gradedTexts = flag.String("texts", "testdata/mail", "folder of the emails' text parts that TestEmailsArePlain grades")

// plainGrade is the highest school grade that an email may ask for: many customers read
// English second, on a phone.
const plainGrade = 7.0

// TestEmailsArePlain grades the sentences of every kind of email, from below the greeting
// to the sign-off. go test -v -run EmailsArePlain -texts DIR grades others.
func TestEmailsArePlain(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(*gradedTexts, "*.txt"))
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	sum, n := 0.0, 0
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		words, sentences, syllables := counted(prose(string(text)))
		if sentences == 0 {
			t.Logf("%-24s no sentence", filepath.Base(f))
			continue
		}
		g := grade(words, sentences, syllables)
		sum, n = sum+g, n+1
		t.Logf("%-24s grade %4.1f: %3d words in %2d sentences", filepath.Base(f), g, words, sentences)
		if g > plainGrade && *gradedTexts == "testdata/mail" {
			t.Errorf("%s asks for grade %.1f, want at most %.0f", filepath.Base(f), g, plainGrade)
		}
	}
	t.Logf("mean of %d: grade %.1f", n, sum/float64(n))
}

// grade is the Flesch-Kincaid grade level (J. P. Kincaid, R. P. Fishburne, R. L. Rogers,
// B. S. Chissom, Derivation of new readability formulas for Navy enlisted personnel,
// Research Branch Report 8-75, 1975).
func grade(words, sentences, syllables int) float64 {
	return 0.39*float64(words)/float64(sentences) + 11.8*float64(syllables)/float64(words) - 15.59
}

// prose are the paragraphs between greeting and sign-off that are sentences: neither rows
// of the log nor links.
func prose(text string) string {
	if _, rest, ok := strings.Cut(text, "\n\n"); ok {
		text = rest
	}
	text, _, _ = strings.Cut(text, "Your service desk at")
	text, _, _ = strings.Cut(text, "\n-----")
	var out []string
	for para := range strings.SplitSeq(text, "\n\n") {
		p := strings.TrimSpace(strings.Join(strings.Fields(strings.TrimLeft(para, "!* ")), " "))
		if strings.HasSuffix(p, ".") || strings.HasSuffix(p, "?") || strings.HasSuffix(p, ":") {
			out = append(out, p)
		}
	}
	return strings.Join(out, "\n")
}

var (
	wordOnly    = regexp.MustCompile(`[A-Za-zÀ-ÿ][A-Za-zÀ-ÿ'’]*`)
	sentenceEnd = regexp.MustCompile(`(?m)[.!?]+["”)]*(?:\s|$)|:$`)
	vowels      = regexp.MustCompile(`[aeiouyäöüéàåø]+`)
)

func counted(text string) (words, sentences, syllables int) {
	sentences = len(sentenceEnd.FindAllString(text, -1))
	for _, w := range wordOnly.FindAllString(text, -1) {
		words, syllables = words+1, syllables+syllablesOf(w)
	}
	return words, sentences, syllables
}

// syllablesOf counts the groups of vowels, without a silent e at the end: as near as
// counting by rule comes.
func syllablesOf(word string) int {
	w := strings.ToLower(strings.Trim(word, "'’"))
	w = strings.TrimSuffix(strings.TrimSuffix(w, "'s"), "’s")
	n := len(vowels.FindAllString(w, -1))
	switch {
	case strings.HasSuffix(w, "le") && len(w) > 2 && !strings.ContainsRune("aeiouy", rune(w[len(w)-3])):
	case strings.HasSuffix(w, "e") && !strings.HasSuffix(w, "ee") && !strings.HasSuffix(w, "ye"),
		strings.HasSuffix(w, "ed") && !strings.HasSuffix(w, "ted") && !strings.HasSuffix(w, "ded"),
		strings.HasSuffix(w, "es") && !strings.HasSuffix(w, "ses") && !strings.HasSuffix(w, "ces") && !strings.HasSuffix(w, "ges") && !strings.HasSuffix(w, "xes") && !strings.HasSuffix(w, "hes") && !strings.HasSuffix(w, "zes"):
		n--
	}
	return max(n, 1)
}

func TestSyllables(t *testing.T) {
	for word, want := range map[string]int{
		"boat": 1, "engine": 2, "manual": 2, "winterized": 3, "freeze": 1, "vapor": 2, "please": 1, "table": 2, "booked": 1, "visited": 3, "changes": 2, "dates": 1, "the": 1, "reply": 2,
	} {
		if got := syllablesOf(word); got != want {
			t.Errorf("%s has %d syllables, want %d", word, got, want)
		}
	}
}
