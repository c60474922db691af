package mapping

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bellbuoy/schedule/words"
	"bellbuoy/store/imports/sheet"
)

// A column of free texts asks at most so many words, and no word of fewer rows.
const mostAsked, fewestRows = 250, 5

// wording is one text of a column, without its numbers.
type wording struct {
	text    string
	rows    int
	example string
}

// contains drafts what the texts of a column mean by what they contain: phrases
// that are known, then the most frequent words of the texts without any, then one
// answer for the rest.
func (w *writer) contains(d *draft, column int) error {
	all, err := d.wordings(column)
	if err != nil {
		return err
	}
	w.line("\n[sheet.contains]  # what the job is where a text contains this; the longest counts, numbers and sizes do not; answer as above")
	asked := map[string]bool{}
	ask := func(words, meaning string, rows int, example string) {
		asked[words] = true
		comment := ""
		if rows > 0 {
			comment = fmt.Sprintf("%s, for example %.60q", countRows(rows), example)
		}
		meaning, comment = answered(d.prior.Contains, words, meaning, comment)
		w.ask(PartContains, words, meaning, comment, nil)
	}
	for _, word := range sorted(d.prior.Contains) {
		if d.prior.Contains[word] != Open && word != Rest {
			rows, example := 0, ""
			all = slices.DeleteFunc(all, func(x wording) bool {
				hit := len(phrasesIn(x.text, []phrase{{phraseOf(word), ""}})) > 0
				if hit {
					rows, example = rows+x.rows, cmp.Or(example, x.example)
				}
				return hit && !knownPhrase(word)
			})
			ask(word, d.prior.Contains[word], rows, example)
		}
	}
	all = d.knownPhrases(all, func(p phrase, rows int, example string) {
		if !asked[p.words] {
			ask(p.words, p.means, rows, example)
		}
	})
	for range mostAsked {
		word, rows, example := mostFrequent(all)
		if rows < fewestRows {
			break
		}
		ask(word, Open, rows, example)
		all = slices.DeleteFunc(all, func(x wording) bool { return len(phrasesIn(x.text, []phrase{{word, ""}})) > 0 })
	}
	if len(all) > 0 {
		rows := 0
		for _, x := range all {
			rows += x.rows
		}
		meaning, comment := answered(d.prior.Contains, Rest, Open, fmt.Sprintf("all other texts: %s in %s, for example %.60q and %.60q", countRows(rows), words.Count(len(all), "wording"), all[0].example, all[len(all)-1].example))
		w.ask(PartContains, Rest, meaning, comment, nil)
	}
	return nil
}

func countRows(n int) string { return words.Count(n, "row") }

func knownPhrase(word string) bool {
	return slices.ContainsFunc(servicePhrases(), func(p phrase) bool { return p.words == word })
}

// wordings reads a column once more: its different texts, the most frequent first.
func (d *draft) wordings(column int) ([]wording, error) {
	by := map[string]*wording{}
	err := d.book.Rows(d.table, func(r sheet.Row) error {
		if r.Line <= d.header || column >= len(r.Cells) {
			return nil
		}
		s := strings.TrimSpace(r.Cells[column].Text)
		if s == "" {
			return nil
		}
		key := phraseOf(s)
		if by[key] == nil {
			by[key] = &wording{text: key, example: s}
		}
		by[key].rows++
		return nil
	})
	all := make([]wording, 0, len(by))
	for _, key := range sorted(by) {
		all = append(all, *by[key])
	}
	slices.SortStableFunc(all, func(a, b wording) int { return cmp.Compare(b.rows, a.rows) })
	return all, err
}

// knownPhrases passes the known phrases on that the texts contain, those of most
// rows first, and returns the texts without any.
func (d *draft) knownPhrases(all []wording, fn func(p phrase, rows int, example string)) (others []wording) {
	rows, example := map[phrase]int{}, map[phrase]string{}
	var order []phrase
	for _, x := range all {
		found := phrasesIn(x.text, servicePhrases())
		if len(found) == 0 {
			others = append(others, x)
		}
		for _, p := range found {
			if rows[p] == 0 {
				order, example[p] = append(order, p), x.example
			}
			rows[p] += x.rows
		}
	}
	slices.SortStableFunc(order, func(a, b phrase) int { return cmp.Compare(rows[b], rows[a]) })
	for _, p := range order {
		means := p.means
		if means != Open && slices.ContainsFunc(splitCodes(means), func(code string) bool { return !hasService(d.o.Services, code) }) {
			means = Open
		}
		fn(phrase{p.words, means}, rows[p], example[p])
	}
	return others
}

// mostFrequent is the word that most rows contain.
func mostFrequent(all []wording) (word string, rows int, example string) {
	count, first := map[string]int{}, map[string]string{}
	for _, x := range all {
		seen := map[string]bool{}
		for _, w := range strings.Fields(x.text) {
			if len(w) < 3 || seen[w] || slices.Contains([]string{"and", "the", "for", "with", "per", "from", "new", "all", "boat", "customer", "service"}, w) {
				continue
			}
			seen[w] = true
			if count[w] += x.rows; first[w] == "" {
				first[w] = x.example
			}
		}
	}
	for _, w := range sorted(count) {
		if count[w] > rows {
			word, rows = w, count[w]
		}
	}
	return word, rows, first[word]
}
