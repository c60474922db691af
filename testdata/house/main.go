// Command house counts what makes the code hard or easy to learn, and prints a
// table: files, lines, functions that one place calls, exported names, what is too
// long, which writers of the store are within reach of pages and commands.
//
//	go run ./testdata/house                     the table of this tree
//	go run ./testdata/house -C DIR              the table of another checkout
//	go run ./testdata/house -list tests         functions that tests alone call
//	go run ./testdata/house -list one -most 4   functions of 4 lines or less that one place calls
//	go run ./testdata/house -list long          functions over 60 lines or seven parameters
//	go run ./testdata/house -list writers       store writers that others than app name
//	go run ./testdata/house -list packages      files, lines and exported names of each
//
// It goes by go/types. Methods that satisfy an interface, functions that are handed
// on as a value (handlers in a table of routes), methods that a template names,
// main and init have callers that it cannot see; it leaves them out.
package main

import (
	"flag"
	"fmt"
	"log"
	"path/filepath"
	"slices"
	"strings"
)

const (
	mostLines  = 60
	mostParams = 7
)

func main() {
	dir := flag.String("C", ".", "the checkout to count")
	list := flag.String("list", "", "tests, one, long, writers or packages instead of the table")
	most := flag.Int("most", 1000, "with -list one: the most lines of a function")
	flag.Parse()
	root, err := filepath.Abs(*dir)
	if err != nil {
		log.Fatal(err)
	}
	t, err := load(root)
	if err != nil {
		log.Fatal(err)
	}
	switch *list {
	case "":
		t.table()
	case "packages":
		for _, p := range t.rooms {
			fmt.Printf("%-40s %3d files %6d lines %4d exported (%d with methods)\n", p.dir, p.files, p.lines, p.exported, p.exported+p.methods)
		}
	case "writers":
		for _, w := range t.writers {
			fmt.Println(w)
		}
	case "tests", "one", "long":
		for _, f := range t.funcs {
			switch {
			case *list == "tests" && !f.unseen && len(f.callers) == 0,
				*list == "one" && !f.unseen && len(f.callers) == 1 && f.lines <= *most,
				*list == "long" && f.tooLong():
				fmt.Printf("%s:%d: %s, %d lines, %d parameters, %d calls in tests %s\n", f.file, f.line, f.name, f.lines, f.params, f.inTests, strings.Join(f.from(), " "))
			}
		}
	default:
		log.Fatalf("-list %s: want tests, one, long, writers or packages", *list)
	}
}

// table prints one line a figure.
func (t *tree) table() {
	var counted, one, dead, long int
	for _, f := range t.funcs {
		if f.tooLong() {
			long++
		}
		if f.unseen {
			continue
		}
		counted++
		switch len(f.callers) {
		case 0:
			dead++
		case 1:
			one++
		}
	}
	var files, lines, exported int
	for _, p := range t.rooms {
		files, lines, exported = files+p.files, lines+p.lines, exported+p.exported
	}
	longest := slices.MaxFunc(t.rooms, func(a, b *room) int { return a.lines - b.lines })
	widest := slices.MaxFunc(t.rooms, func(a, b *room) int { return a.exported - b.exported })
	for _, row := range [][2]string{
		{"packages", fmt.Sprint(len(t.rooms))},
		{"files without tests", fmt.Sprint(files)},
		{"lines without tests", fmt.Sprint(lines)},
		{"functions", fmt.Sprint(len(t.funcs))},
		{"of them counted by caller", fmt.Sprint(counted)},
		{"called in exactly one place", fmt.Sprintf("%d (%.1f %%)", one, 100*float64(one)/float64(counted))},
		{"called by tests alone", fmt.Sprint(dead)},
		{fmt.Sprintf("over %d lines or %d parameters", mostLines, mostParams), fmt.Sprint(long)},
		{"exported names, a package", fmt.Sprintf("%.0f", float64(exported)/float64(len(t.rooms)))},
		{"package with the most of them", fmt.Sprintf("%s, %d", widest.dir, widest.exported)},
		{"longest package", fmt.Sprintf("%s, %d files, %d lines", longest.dir, longest.files, longest.lines)},
		{"store writers named outside app", fmt.Sprint(len(t.writers))},
	} {
		fmt.Printf("| %s | %s |\n", row[0], row[1])
	}
}
