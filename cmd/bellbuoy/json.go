package main

import (
	"encoding"
	"encoding/json"
	"reflect"
)

// printJSON writes one value, indented, with no HTML escaping. An empty list is
// [], never null: whoever reads it may loop over it unasked.
func (a *cli) printJSON(v any) error {
	enc := json.NewEncoder(a.out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(withLists(v))
}

// withLists returns the value with an empty list in place of every nil one.
func withLists(v any) any {
	if v == nil {
		return nil
	}
	p := reflect.New(reflect.TypeOf(v)).Elem()
	p.Set(reflect.ValueOf(v))
	fillLists(p)
	return p.Interface()
}

// fillLists fills in place. What writes its own JSON is left alone, and so are
// fields that JSON does not see.
func fillLists(v reflect.Value) {
	if !v.CanSet() || writesItself(v.Type()) {
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			fillLists(v.Elem())
		}
	case reflect.Interface:
		if !v.IsNil() {
			v.Set(reflect.ValueOf(withLists(v.Interface())))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			fillLists(v.Field(i))
		}
	case reflect.Array, reflect.Slice:
		if v.Kind() == reflect.Slice && v.IsNil() && v.Type().Elem().Kind() != reflect.Uint8 {
			v.Set(reflect.MakeSlice(v.Type(), 0, 0))
		}
		for i := range v.Len() {
			fillLists(v.Index(i))
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			v.SetMapIndex(k, reflect.ValueOf(withLists(v.MapIndex(k).Interface())))
		}
	}
}

func writesItself(t reflect.Type) bool {
	for _, i := range []reflect.Type{reflect.TypeFor[json.Marshaler](), reflect.TypeFor[encoding.TextMarshaler]()} {
		if t.Implements(i) || reflect.PointerTo(t).Implements(i) {
			return true
		}
	}
	return false
}
