package site

import (
	"bytes"
	"cmp"
	"fmt"
	"html/template"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// In is the site as readers of a language see it, one of [texts.Languages]: its
// words, days and amounts are theirs. "" is the staff's, which is English.
func (s *Site) In(language string) *Site {
	if language == s.language {
		return s
	}
	in := *s
	in.language = language
	in.texts = s.App.Planner.Settings().Texts.In(in.Language())
	in.format = s.App.Config.Format().In(in.Language())
	return &in
}

// Language is the tag of the language that the site speaks: "en".
func (s *Site) Language() string { return cmp.Or(s.language, words.English) }

// Format writes days, times and amounts as the shop's readers expect.
func (s *Site) Format() words.Format {
	if s.language == "" {
		return s.App.Config.Format()
	}
	return s.format
}

// phrases are the sentences of the site's language.
func (s *Site) phrases() *texts.Texts {
	if s.texts == nil {
		return s.App.Planner.Settings().Texts.In(words.English)
	}
	return s.texts
}

// Say fills a phrase that customers read; see [texts.Texts.Say].
func (s *Site) Say(key string, pairs ...string) string { return s.phrases().Say(key, pairs...) }

// Count fills a phrase that depends on a number; see [texts.Texts.Count].
func (s *Site) Count(key string, n int, pairs ...string) string {
	return s.phrases().Count(key, n, pairs...)
}

// PartName is a part's label in the site's language; one without is an engine, whose
// meter is shown.
func (s *Site) PartName(label string) string {
	if label == "" {
		return s.Say("page.engine")
	}
	return schedule.PartName(s.phrases(), label)
}

// Other is a page in another language, for a link to it.
type Other struct{ Tag, Name, URL string }

// languageFuncs are the words of templates that speak the page's language. Pairs
// are the words in braces and what they become: text, or what tel, link, mark and
// day make.
func (s *Site) languageFuncs() template.FuncMap {
	return template.FuncMap{
		"language": s.Language,
		// english marks a part of a page for staff on a page in another language.
		"english": func() template.HTMLAttr {
			if s.Language() == words.English {
				return ""
			}
			return ` lang="en"`
		},
		"say":      func(key string, pairs ...any) template.HTML { return fill(s.phrases().Say(key), pairs) },
		"count":    func(key string, n int, pairs ...any) template.HTML { return fill(s.phrases().Count(key, n), pairs) },
		"partname": s.PartName,
		"tel":      func(number string) (template.HTML, error) { return part("tel", number) },
		"link": func(to string, text template.HTML, unseen string) (template.HTML, error) {
			if unseen != "" {
				unseen = s.Say("page.of", "what", unseen)
			}
			return part("link", struct {
				To     string
				Text   template.HTML
				Unseen string
			}{to, text, unseen})
		},
		"mark": func(tag string, text any) (template.HTML, error) { return part(tag, text) },
		"day": func(d civil.Day) (template.HTML, error) {
			return part("day", struct {
				Day   civil.Day
				Words string
			}{d, s.Format().ShortDate(d)})
		},
	}
}

// fill puts what pairs say into a phrase. A phrase is plain text and comes out as
// such, whoever wrote it: only what has passed a template is taken as HTML.
func fill(phrase string, pairs []any) template.HTML {
	holes := make([]string, len(pairs))
	for i, v := range pairs {
		switch v, made := v.(template.HTML); {
		case i%2 == 0:
			holes[i] = fmt.Sprintf("{%v}", pairs[i])
		case made:
			holes[i] = string(v)
		default:
			holes[i] = template.HTMLEscapeString(fmt.Sprint(pairs[i]))
		}
	}
	return template.HTML(strings.NewReplacer(holes...).Replace(markup.Replace(phrase)))
}

// markup takes the meaning off the signs of HTML. A phrase stands between tags, or
// goes through the template's own escaping where it stands in one.
var markup = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

// parts are the pieces of HTML that stand inside sentences.
var parts = template.Must(template.New("").Parse(
	`{{define "tel"}}<a class="tel" href="tel:{{.}}">{{.}}</a>{{end}}` +
		`{{define "link"}}<a href="{{.To}}">{{.Text}}{{with .Unseen}}<span class="unseen">{{.}}</span>{{end}}</a>{{end}}` +
		`{{define "day"}}<time datetime="{{.Day}}">{{.Words}}</time>{{end}}` +
		`{{define "strong"}}<strong>{{.}}</strong>{{end}}{{define "em"}}<em>{{.}}</em>{{end}}{{define "code"}}<code>{{.}}</code>{{end}}`))

// part makes one of them.
func part(name string, of any) (template.HTML, error) {
	var b bytes.Buffer
	err := parts.ExecuteTemplate(&b, name, of)
	return template.HTML(b.String()), err
}
