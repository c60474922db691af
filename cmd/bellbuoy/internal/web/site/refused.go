package site

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/store"
)

// refusal is why a form was sent in vain: what was entered is shown again, with
// these words.
type Refusal struct {
	Field string // the field that they are about, "" for the form as a whole
	Words string
}

func (s Refusal) Error() string { return s.Field + ": " + s.Words }

// refusals are all that is wrong with a form, in the order of its fields.
type Refusals []Refusal

func (all Refusals) Error() string { return all.Words() }

// words are all the sentences.
func (all Refusals) Words() string {
	var out []string
	for _, s := range all {
		out = append(out, s.Words)
	}
	return strings.Join(out, " ")
}

// at are the sentences about one field.
func (all Refusals) at(field string) string {
	return slices.DeleteFunc(slices.Clone(all), func(s Refusal) bool { return s.Field != field }).Words()
}

// add takes up an error that is a refusal, or several.
func (all *Refusals) Add(err error) {
	some, _ := Refused(err)
	*all = append(*all, some...)
}

// refused returns what an error says about a form that was sent, and whether it
// says that. What the store refuses is worded for people.
func Refused(err error) (Refusals, bool) {
	var one Refusal
	var several Refusals
	var full *app.FullWeek
	var doubtful *app.Doubtful
	switch {
	case errors.As(err, &several):
		return several, true
	case errors.As(err, &one):
		return Refusals{one}, true
	case errors.As(err, &full):
		return Refusals{{"day", sentence(full.Error())}}, true
	case errors.As(err, &doubtful):
		for _, d := range doubtful.Doubts {
			field := "" // which of the form's lines it is about, the words say
			if d.Field == "day" {
				field = "day"
			}
			several = append(several, Refusal{field, d.Words})
		}
		return several, true
	case errors.Is(err, store.ErrRefused):
		return Refusals{{"", sentence(why(err))}}, true
	}
	return nil, false
}

// At refuses a form for what stands in one of its fields.
func At(field, words string) Refusal { return Refusal{field, words} }

// correct is an error in what was entered that is about no field alone.
func Correct(words string) error { return Refusal{"", words} }

// refill puts what was sent with r back into the form of a page that refuses it,
// so that no form can lose what was typed, and each refusal beside the field
// that it is about. The first such field has the focus, and what is folded away
// around it, or around anything that was entered, is open. A page without the
// form stays as it is.
func refill(page []byte, r *http.Request, why Refusals) ([]byte, error) {
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		return nil, fmt.Errorf("read the page again: %w", err)
	}
	form := sentForm(doc, r.URL.Path, r.PostForm)
	if form == nil {
		return page, nil
	}
	unfold(form)
	nth := make(map[string]int) // fields of one name before this one
	for c := range controls(form) {
		name := attr(c, "name")
		if keep(c, r.PostForm[name], nth[name]) {
			unfold(c)
		}
		nth[name]++
	}
	placed := 0
	for c := range controls(form) {
		words := why.at(attr(c, "name"))
		if words == "" || attr(c, "type") == "hidden" {
			continue
		}
		why = slices.DeleteFunc(slices.Clone(why), func(s Refusal) bool { return s.Field == attr(c, "name") })
		placed++
		explain(c, fmt.Sprintf("refused-%d", placed), words)
		if placed == 1 {
			for n := range form.Descendants() {
				setFlag(n, "autofocus", n == c)
			}
		}
		unfold(c)
	}
	var out bytes.Buffer
	err = html.Render(&out, doc)
	return out.Bytes(), err
}

// about are the hidden fields that say what a form is about; two forms of one
// page differ in one of them, or in the name on their button.
var about = []string{"kind", "boat", "visit", "item", "what", "id"}

// sentForm finds the form that was sent, nil if the page shows it no more.
func sentForm(doc *html.Node, path string, sent url.Values) *html.Node {
	for n := range doc.Descendants() {
		if n.DataAtom != atom.Form || attr(n, "method") != "post" {
			continue
		}
		if to, err := url.Parse(attr(n, "action")); err != nil || to.Path != path {
			continue
		}
		same, buttons, pressed := true, 0, false
		for c := range n.Descendants() {
			name := attr(c, "name")
			switch {
			case c.DataAtom == atom.Input && attr(c, "type") == "hidden" && slices.Contains(about, name):
				same = same && sent.Get(name) == attr(c, "value")
			case c.DataAtom == atom.Button && name != "":
				buttons++
				pressed = pressed || sent.Get(name) == attr(c, "value")
			}
		}
		if same && (buttons == 0 || pressed) {
			return n
		}
	}
	return nil
}

// controls are the fields of a form that have a name, in order.
func controls(form *html.Node) func(yield func(*html.Node) bool) {
	return func(yield func(*html.Node) bool) {
		for n := range form.Descendants() {
			switch n.DataAtom {
			case atom.Input, atom.Select, atom.Textarea:
				if attr(n, "name") != "" && !yield(n) {
					return
				}
			}
		}
	}
}

// keep gives a field the value that was sent, the i-th of its name, and reports
// whether that changes what the page showed.
func keep(c *html.Node, sent []string, i int) (changed bool) {
	kind := attr(c, "type")
	switch {
	case c.DataAtom == atom.Input && (kind == "checkbox" || kind == "radio"):
		ticked := slices.Contains(sent, cmp.Or(attr(c, "value"), "on"))
		changed = ticked != hasAttr(c, "checked")
		setFlag(c, "checked", ticked)
	case i >= len(sent), c.DataAtom == atom.Input && slices.Contains([]string{"hidden", "password", "file", "submit"}, kind):
	case c.DataAtom == atom.Input:
		changed = attr(c, "value") != sent[i]
		setAttr(c, "value", sent[i])
	case c.DataAtom == atom.Textarea:
		words := strings.ReplaceAll(sent[i], "\r\n", "\n")
		changed = text(c) != words
		for c.FirstChild != nil {
			c.RemoveChild(c.FirstChild)
		}
		c.AppendChild(&html.Node{Type: html.TextNode, Data: words})
	case c.DataAtom == atom.Select:
		changed = choose(c, sent[i])
	}
	return changed
}

// choose selects an option, if the page still offers it, and reports whether
// another one was selected before: by its mark, or as the first.
func choose(sel *html.Node, value string) (changed bool) {
	var before, chosen *html.Node
	var all []*html.Node
	for o := range sel.Descendants() {
		if o.DataAtom != atom.Option {
			continue
		}
		all = append(all, o)
		if before == nil || hasAttr(o, "selected") {
			before = o
		}
		if v := strings.TrimSpace(text(o)); chosen == nil && (hasAttr(o, "value") && attr(o, "value") == value || !hasAttr(o, "value") && v == value) {
			chosen = o
		}
	}
	if chosen == nil {
		return false
	}
	for _, o := range all {
		setFlag(o, "selected", o == chosen)
	}
	return chosen != before
}

// explain puts words beside a field: after it, or for one of several to choose
// from before the first.
func explain(c *html.Node, id, words string) {
	said := &html.Node{Type: html.ElementNode, Data: "span", DataAtom: atom.Span, Attr: []html.Attribute{{Key: "class", Val: "refused"}, {Key: "id", Val: id}}}
	said.AppendChild(&html.Node{Type: html.TextNode, Data: words})
	after := c
	if kind := attr(c, "type"); kind == "checkbox" || kind == "radio" {
		for n := range c.Ancestors() {
			if n.DataAtom != atom.Fieldset {
				continue
			}
			for l := range n.ChildNodes() {
				if l.DataAtom == atom.Legend {
					after = l
				}
			}
			break
		}
	}
	if attr(c, "type") != "radio" { // a radio button by itself is never wrong
		setAttr(c, "aria-invalid", "true")
	}
	setAttr(c, "aria-describedby", strings.TrimSpace(attr(c, "aria-describedby")+" "+id))
	after.Parent.InsertBefore(said, after.NextSibling)
}

// unfold opens what hides a node.
func unfold(n *html.Node) {
	for a := range n.Ancestors() {
		if a.DataAtom == atom.Details {
			setFlag(a, "open", true)
		}
	}
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func hasAttr(n *html.Node, key string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == key })
}

func setAttr(n *html.Node, key, val string) {
	n.Attr = append(slices.DeleteFunc(n.Attr, func(a html.Attribute) bool { return a.Key == key }), html.Attribute{Key: key, Val: val})
}

// setFlag sets an attribute that has no value, or removes it.
func setFlag(n *html.Node, key string, on bool) {
	switch {
	case !on:
		n.Attr = slices.DeleteFunc(n.Attr, func(a html.Attribute) bool { return a.Key == key })
	case !hasAttr(n, key):
		setAttr(n, key, "")
	}
}

// text is all text below a node.
func text(n *html.Node) string {
	var all strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			all.WriteString(d.Data)
		}
	}
	return all.String()
}
