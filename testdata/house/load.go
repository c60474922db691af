package main

import (
	"fmt"
	"go/ast"
	"go/token"
	"go/types"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"golang.org/x/tools/go/packages"
)

// tree is what was counted.
type tree struct {
	root    string
	fset    *token.FileSet
	rooms   []*room
	funcs   []*function // in the order of their files
	writers []string    // "store.DB.Pin from cmd/bellbuoy/book.go:31"

	at         map[string]*function // by the place of the name in its declaration
	writes     map[*function]bool   // runs a statement that writes
	calls      map[*function]map[*function]bool
	interfaces []*types.Interface
	inTemplate map[string]bool
}

// room is one package.
type room struct {
	dir               string
	files, lines      int // without tests
	exported, methods int // exported top-level names, exported methods
}

// function is a declared function or method outside of tests.
type function struct {
	name, dir, file     string
	line, lines, params int
	callers             map[string]bool // places outside of tests, but for the function itself
	inTests             int
	unseen              bool // its callers cannot be counted
}

func (f *function) tooLong() bool { return f.lines > mostLines || f.params > mostParams }

func (f *function) from() []string { return slices.Sorted(maps.Keys(f.callers)) }

// load reads the module at root with its tests, and counts.
func load(root string) (*tree, error) {
	t := &tree{root: root, fset: token.NewFileSet(), at: map[string]*function{}, writes: map[*function]bool{}, calls: map[*function]map[*function]bool{}}
	pkgs, err := packages.Load(&packages.Config{Mode: packages.LoadSyntax | packages.NeedForTest, Dir: root, Fset: t.fset, Tests: true}, "./...")
	if err != nil {
		return nil, err
	}
	for _, p := range pkgs {
		if len(p.Errors) > 0 {
			return nil, fmt.Errorf("%s: %v", p.ID, p.Errors[0])
		}
	}
	if t.inTemplate, err = namesInTemplates(root); err != nil {
		return nil, err
	}
	t.interfaces = interfaces(pkgs)
	shipped := inProgram(pkgs)
	for _, p := range pkgs {
		if shipped[p.ID] {
			if err := t.declare(p); err != nil {
				return nil, err
			}
		}
	}
	seen := map[string]bool{}
	for _, p := range pkgs {
		t.uses(p, seen)
	}
	t.findWriters()
	return t, nil
}

// inProgram are the packages that the programs are made of. What tests alone import
// is a test.
func inProgram(pkgs []*packages.Package) map[string]bool {
	byID, out := map[string]*packages.Package{}, map[string]bool{}
	for _, p := range pkgs {
		byID[p.ID] = p
	}
	var visit func(p *packages.Package)
	visit = func(p *packages.Package) {
		if p == nil || out[p.ID] {
			return
		}
		out[p.ID] = true
		for _, im := range p.Imports {
			visit(byID[im.ID])
		}
	}
	for _, p := range pkgs {
		if p.Name == "main" && p.ForTest == "" && !strings.HasSuffix(p.ID, ".test") {
			visit(p)
		}
	}
	return out
}

// declare counts the package and its functions.
func (t *tree) declare(p *packages.Package) error {
	r := &room{}
	for _, f := range p.Syntax {
		path := t.fset.Position(f.Package).Filename
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		r.dir, r.files, r.lines = filepath.Dir(t.rel(path)), r.files+1, r.lines+strings.Count(string(data), "\n")
		for _, d := range f.Decls {
			if fd, ok := d.(*ast.FuncDecl); ok {
				t.function(p, fd, r)
			}
		}
	}
	if r.files == 0 {
		return nil
	}
	for _, name := range p.Types.Scope().Names() {
		if ast.IsExported(name) {
			r.exported++
		}
	}
	t.rooms = append(t.rooms, r)
	return nil
}

func (t *tree) function(p *packages.Package, d *ast.FuncDecl, r *room) {
	at, end := t.fset.Position(d.Name.Pos()), t.fset.Position(d.End())
	f := &function{
		name: d.Name.Name, dir: r.dir, file: t.rel(at.Filename), line: at.Line,
		lines: end.Line - t.fset.Position(d.Pos()).Line + 1, params: d.Type.Params.NumFields(), callers: map[string]bool{},
	}
	o := p.TypesInfo.Defs[d.Name].(*types.Func)
	if recv := o.Signature().Recv(); recv != nil {
		if n := named(recv.Type()); n != nil {
			f.name = n.Obj().Name() + "." + f.name
			if o.Exported() && n.Obj().Exported() {
				r.methods++
			}
		}
		f.unseen = t.inTemplate[o.Name()] || o.Name() == "Unwrap" || t.satisfies(recv.Type(), o.Name())
	} else if f.name == "main" || f.name == "init" {
		f.unseen = true
	}
	t.funcs = append(t.funcs, f)
	t.at[at.String()] = f
}

// uses notes who names which function. A file is read once, though it belongs to
// its package and to the package's tests.
func (t *tree) uses(p *packages.Package, seen map[string]bool) {
	for _, file := range p.Syntax {
		path := t.fset.Position(file.Package).Filename
		if seen[path] {
			continue
		}
		seen[path] = true
		called := map[*ast.Ident]bool{}
		for _, d := range file.Decls {
			var in *function
			if fd, ok := d.(*ast.FuncDecl); ok {
				in = t.at[t.fset.Position(fd.Name.Pos()).String()]
			}
			ast.Inspect(d, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.CallExpr:
					called[callee(n.Fun)] = true
				case *ast.Ident:
					if o, ok := p.TypesInfo.Uses[n].(*types.Func); ok {
						t.use(o.Origin(), n, in, called[n])
					}
				}
				return true
			})
		}
	}
}

// use notes that o is named at id, in a function or a declaration outside of one.
func (t *tree) use(o *types.Func, id *ast.Ident, in *function, called bool) {
	at := t.fset.Position(id.Pos())
	if in != nil && o.Pkg() != nil && o.Pkg().Path() == "database/sql" && strings.HasPrefix(o.Name(), "Exec") {
		t.writes[in] = true
	}
	f := t.at[t.fset.Position(o.Pos()).String()]
	switch {
	case f == nil || f == in:
	case strings.HasSuffix(at.Filename, "_test.go"):
		f.inTests++
	default:
		f.callers[fmt.Sprintf("%s:%d:%d", t.rel(at.Filename), at.Line, at.Column)] = true
		f.unseen = f.unseen || !called
		if in != nil {
			if t.calls[in] == nil {
				t.calls[in] = map[*function]bool{}
			}
			t.calls[in][f] = true
		}
	}
}

// callee is the name that a call calls, nil for the call of a value without one.
func callee(e ast.Expr) *ast.Ident {
	switch e := ast.Unparen(e).(type) {
	case *ast.Ident:
		return e
	case *ast.SelectorExpr:
		return e.Sel
	case *ast.IndexExpr:
		return callee(e.X)
	case *ast.IndexListExpr:
		return callee(e.X)
	}
	return nil
}

// findWriters finds the functions of the store's packages that come to a statement
// which writes, and who outside of the store and of the use cases names one.
func (t *tree) findWriters() {
	for grown := true; grown; {
		grown = false
		for f, callees := range t.calls {
			for c := range callees {
				if t.writes[c] && !t.writes[f] && inStore(f.dir) {
					t.writes[f], grown = true, true
				}
			}
		}
	}
	for _, f := range t.funcs {
		if !t.writes[f] || !inStore(f.dir) {
			continue
		}
		for _, from := range f.from() {
			if dir := filepath.Dir(from); !inStore(dir) && !slices.Contains([]string{"cmd/bellbuoy/internal/app", "cmd/bellbuoy/internal/round"}, dir) {
				t.writers = append(t.writers, fmt.Sprintf("%s %s from %s", f.dir, f.name, from))
			}
		}
	}
}

func inStore(dir string) bool { return dir == "store" || strings.HasPrefix(dir, "store/") }

func (t *tree) rel(path string) string {
	rel, err := filepath.Rel(t.root, path)
	if err != nil {
		return path
	}
	return filepath.ToSlash(rel)
}

// named is the type under a pointer, nil if it has no name.
func named(typ types.Type) *types.Named {
	if p, ok := typ.(*types.Pointer); ok {
		typ = p.Elem()
	}
	n, _ := types.Unalias(typ).(*types.Named)
	return n
}

// satisfies reports whether a type's method is one of an interface that the type has.
func (t *tree) satisfies(typ types.Type, method string) bool {
	if n := named(typ); n != nil && n.TypeParams().Len() == 0 {
		typ = types.NewPointer(n)
	}
	for _, i := range t.interfaces {
		for m := range i.Methods() {
			if m.Name() == method && types.Implements(typ, i) {
				return true
			}
		}
	}
	return false
}

// interfaces are those that the packages declare, write in place, or import.
func interfaces(pkgs []*packages.Package) []*types.Interface {
	var out []*types.Interface
	add := func(typ types.Type) {
		if i, ok := typ.Underlying().(*types.Interface); ok && i.NumMethods() > 0 && i.IsMethodSet() {
			out = append(out, i)
		}
	}
	scopes := map[*types.Package]bool{}
	var visit func(p *types.Package)
	visit = func(p *types.Package) {
		if scopes[p] {
			return
		}
		scopes[p] = true
		for _, name := range p.Scope().Names() {
			if tn, ok := p.Scope().Lookup(name).(*types.TypeName); ok {
				if n := named(tn.Type()); n == nil || n.TypeParams().Len() == 0 {
					add(tn.Type())
				}
			}
		}
		for _, im := range p.Imports() {
			visit(im)
		}
	}
	add(types.Universe.Lookup("error").Type())
	for _, p := range pkgs {
		if p.ForTest != "" {
			continue
		}
		visit(p.Types)
		for e, tv := range p.TypesInfo.Types {
			if _, ok := e.(*ast.InterfaceType); ok {
				add(tv.Type)
			}
		}
	}
	return out
}

var templateName = regexp.MustCompile(`[.][A-Z][A-Za-z0-9]*`)

// namesInTemplates are the names that the module's templates may call as methods.
func namesInTemplates(root string) (map[string]bool, error) {
	out := map[string]bool{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() || !slices.Contains([]string{".html", ".tmpl", ".txt", ".toml", ".md"}, filepath.Ext(path)) {
			return err
		}
		data, err := os.ReadFile(path)
		for _, in := range regexp.MustCompile(`(?s)\{\{.*?\}\}`).FindAllString(string(data), -1) {
			for _, name := range templateName.FindAllString(in, -1) {
				out[name[1:]] = true
			}
		}
		return err
	})
	return out, err
}
