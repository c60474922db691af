package main_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestOnlyUseCasesWrite: no command and no page calls what writes the shop's file.
// What writes is found by what it does, not by a list: the functions of the store
// that use its one writing connection, themselves or by one that they call.
func TestOnlyUseCasesWrite(t *testing.T) {
	writers := storeWriters(t)
	for _, known := range []string{"Book", "RecordWork", "SetSetting", "EndSession", "Intake", "IntakeMapped", "SavePlans", "Enqueue"} {
		if !writers[known] {
			t.Errorf("%s is not seen to write: the test looks in the wrong place", known)
		}
	}
	for _, known := range []string{"Boat", "Plan", "WeekOverview", "Search", "Letters"} {
		if writers[known] {
			t.Errorf("%s is said to write, and only reads", known)
		}
	}
	files := 0
	for _, dir := range []string{".", "internal/web"} {
		eachGoFile(t, dir, dir != ".", func(path string, f *ast.File) {
			files++
			ast.Inspect(f, func(n ast.Node) bool {
				if a, ok := n.(*ast.AssignStmt); ok && len(a.Lhs) == len(a.Rhs) {
					for i := range a.Lhs {
						if isStore(a.Rhs[i]) && !isStore(a.Lhs[i]) {
							t.Errorf("%s calls the store %s: its name is db", path, lastName(a.Lhs[i]))
						}
					}
				}
				return true
			})
			for _, call := range writingCalls(f, writers) {
				t.Errorf("%s calls %s: it writes; act through the package app", path, call)
			}
		})
	}
	if files < 50 {
		t.Errorf("only %d files of commands and pages read: the test looks in the wrong place", files)
	}
}

// storeWriters are the names of the functions and methods of the store that write.
func storeWriters(t *testing.T) map[string]bool {
	uses := make(map[string][]string) // of a function, the others to which it hands the store
	methods := make(map[string][]string)
	holds := make(map[string][]string) // of a function, the types of which it makes one with the store inside
	writers := make(map[string]bool)
	eachGoFile(t, "../../store", true, func(_ string, f *ast.File) {
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || fn.Body == nil {
				continue
			}
			name := fn.Name.Name
			if of := receiver(fn); of != "" {
				methods[of] = append(methods[of], name)
			}
			ast.Inspect(fn.Body, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.SelectorExpr:
					if what := n.Sel.Name; isStore(n.X) && (what == "Tx" || what == "Write" || what == "Group") {
						writers[name] = true
					}
				case *ast.CallExpr:
					sel, method := n.Fun.(*ast.SelectorExpr)
					if method && isStore(sel.X) || slices.ContainsFunc(n.Args, isStore) {
						uses[name] = append(uses[name], lastName(n.Fun))
					}
				case *ast.CompositeLit:
					for _, e := range n.Elts {
						if kv, ok := e.(*ast.KeyValueExpr); ok && isStore(kv.Value) {
							holds[name] = append(holds[name], lastName(n.Type))
						}
					}
				}
				return true
			})
		}
	})
	for name, types := range holds {
		for _, of := range types {
			uses[name] = append(uses[name], methods[of]...)
		}
	}
	// What opens and closes the file is no act of the shop.
	for _, name := range []string{"Open", "Close", "Restore", "Import"} {
		delete(writers, name)
		delete(uses, name)
	}
	for grown := true; grown; {
		grown = false
		for name, all := range uses {
			if !writers[name] && slices.ContainsFunc(all, func(u string) bool { return writers[u] }) {
				writers[name], grown = true, true
			}
		}
	}
	return writers
}

// isStore reports whether an expression is the store, by the two names that it has
// throughout: a third one for it is refused.
func isStore(e ast.Expr) bool { return lastName(e) == "db" || lastName(e) == "DB" }

// writingCalls are the writers that one file calls: methods of a store, and
// functions that it hands one.
func writingCalls(f *ast.File, writers map[string]bool) []string {
	var found []string
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.SelectorExpr: // not only where it is called: a method may be handed on
			if writers[n.Sel.Name] && isStore(n.X) {
				found = append(found, n.Sel.Name)
			}
		case *ast.CallExpr:
			if writers[lastName(n.Fun)] && slices.ContainsFunc(n.Args, isStore) {
				found = append(found, lastName(n.Fun))
			}
		}
		return true
	})
	return found
}

func eachGoFile(t *testing.T, dir string, deep bool, fn func(path string, f *ast.File)) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && path != dir && (!deep || d.Name() == "testdata"):
			return filepath.SkipDir
		case d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go"):
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err == nil {
			fn(path, f)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// receiver is the name of the type that a method is of, "" for a function.
func receiver(fn *ast.FuncDecl) string {
	if fn.Recv == nil {
		return ""
	}
	of := fn.Recv.List[0].Type
	if star, ok := of.(*ast.StarExpr); ok {
		of = star.X
	}
	return lastName(of)
}

// lastName is the last name of an expression: Book of h.DB.Book.
func lastName(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	}
	return ""
}
