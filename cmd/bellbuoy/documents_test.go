package main

import (
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

var updateDocuments = flag.Bool("update", false, "write deploy/json.md, deploy/bellbuoy.1 and deploy/licenses.md anew")

// TestDocumentsAreMadeOfTheProgram wants the manual page, the list of JSON fields
// and that of licenses in deploy to be what the program's help, types and modules
// say now.
func TestDocumentsAreMadeOfTheProgram(t *testing.T) {
	for name, want := range map[string]string{"bellbuoy.1": manPage(rootCommand(env{})), "json.md": jsonFields(t), "licenses.md": licenses(t)} {
		path := filepath.Join("..", "..", "deploy", name)
		if *updateDocuments {
			if err := os.WriteFile(path, []byte(want), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if have, err := os.ReadFile(path); err != nil || string(have) != want {
			t.Errorf("%s is not what the program says; look at it after go test ./cmd/bellbuoy -run Documents -update (%v)", path, err)
		}
	}
}

// TestEveryCommandHelps: each command has a sentence, and each that does
// something an example.
func TestEveryCommandHelps(t *testing.T) {
	each(rootCommand(env{}), func(c *cobra.Command) {
		parent := c.Parent().Name() == "bellbuoy"
		if c.Short == "" || parent && c.Example == "" {
			t.Errorf("%s: no sentence or no example", c.CommandPath())
		}
	})
}

// jsonFields words the types that the commands print with --json.
func jsonFields(t *testing.T) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("# What `--json` prints\n\nMade of the program's types by a test. Days are YYYY-MM-DD, weeks YYYY-Www, moments RFC 3339; times of work are minutes; money is\ndecimal in the shop's currency where a field does not say cents. `[...]` is a list. Types of one\nsource file belong to the command of that name.\n")
	fset := token.NewFileSet()
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(files)
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(fset, name, nil, parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.TYPE {
				continue
			}
			for _, spec := range g.Specs {
				s := spec.(*ast.TypeSpec)
				if x, ok := s.Type.(*ast.StructType); ok {
					fields(&b, name, g.Doc.Text(), s.Name.Name, x)
				}
			}
		}
	}
	return b.String()
}

// fields words one type, if it has fields with names for JSON.
func fields(b *strings.Builder, file, doc, name string, x *ast.StructType) {
	var rows []string
	for _, f := range x.Fields.List {
		if f.Tag == nil {
			continue
		}
		key, _, _ := strings.Cut(reflect.StructTag(strings.Trim(f.Tag.Value, "`")).Get("json"), ",")
		if key == "" || key == "-" {
			continue
		}
		note := strings.Join(strings.Fields(f.Doc.Text()+" "+f.Comment.Text()), " ")
		rows = append(rows, fmt.Sprintf("| `%s` | %s | %s |", key, kindOfField(f.Type), note))
	}
	if len(rows) == 0 {
		return
	}
	fmt.Fprintf(b, "\n## %s (`%s`)\n\n", name, strings.TrimSuffix(file, ".go"))
	if doc != "" {
		fmt.Fprintf(b, "%s\n", doc)
	}
	fmt.Fprintf(b, "| field | kind | |\n|---|---|---|\n%s\n", strings.Join(rows, "\n"))
}

// kindOfField is a field's type in few words.
func kindOfField(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		switch e.Name {
		case "string":
			return "text"
		case "int", "int64", "uint64":
			return "whole number"
		case "float64":
			return "number"
		case "bool":
			return "true or false"
		}
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	case *ast.ArrayType:
		return "[" + kindOfField(e.Elt) + "]"
	case *ast.StarExpr:
		return kindOfField(e.X) + " or null"
	case *ast.MapType:
		return "object of " + kindOfField(e.Value)
	}
	return "object"
}
