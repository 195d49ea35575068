package casebook

import (
	"reflect"
	"strings"
	"time"
	"unicode/utf8"
)

// plainText is the rest of a text in canonical JSON that is read field by field, which takes a quarter of the time of the
// general reader. It is bad when it is not as the program itself writes all but a few events: without escapes or large
// numbers, the fields in their order. Then it is for the general reader to say what it is; what is read here reads the
// same there.
type plainText struct {
	rest string
	bad  bool
}

// plainEvent reads an event. ok tells whether it could be read so.
func plainEvent(text string) (e *Event, ok bool) {
	e, p := &Event{}, &plainText{rest: text, bad: strings.Contains(text, `\`) || !utf8.ValidString(text)}
	for i := range len(text) {
		p.bad = p.bad || text[i] < ' '
	}
	p.value(reflect.ValueOf(e).Elem())
	return e, !p.bad && p.rest == ""
}

// names are how the fields of each struct of an event begin in JSON, in their order.
var names = namesOf(map[reflect.Type][]string{}, reflect.TypeFor[Event]())

func namesOf(out map[reflect.Type][]string, t reflect.Type) map[reflect.Type][]string {
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice:
		return namesOf(out, t.Elem())
	case reflect.Struct:
		for i := range t.NumField() {
			name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
			out[t] = append(out[t], `"`+name+`":`)
			namesOf(out, t.Field(i).Type)
		}
	}
	return out
}

func (p *plainText) value(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(p.text())
	case reflect.Int, reflect.Int64:
		v.SetInt(p.number())
	case reflect.Bool:
		v.SetBool(p.next("true"))
		p.bad = p.bad || !v.Bool() && !p.next("false")
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		p.value(v.Elem())
	case reflect.Slice:
		p.need("[")
		for more := true; more && !p.bad; more = p.next(",") {
			v.Set(reflect.Append(v, reflect.Zero(v.Type().Elem())))
			p.value(v.Index(v.Len() - 1))
		}
		p.need("]")
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		p.need("{")
		for more := true; more && !p.bad; more = p.next(",") {
			key, x := p.text(), reflect.New(v.Type().Elem()).Elem()
			p.need(":")
			p.value(x)
			v.SetMapIndex(reflect.ValueOf(key), x)
		}
		p.need("}")
	case reflect.Struct:
		if at, ok := v.Addr().Interface().(*time.Time); ok {
			p.bad = at.UnmarshalText([]byte(p.text())) != nil || p.bad
			return
		}
		p.need("{")
		first := true
		for i, name := range names[v.Type()] {
			if before := p.rest; !first && !p.next(",") || !p.next(name) {
				p.rest = before // it is left out
				continue
			}
			first = false
			p.value(v.Field(i))
		}
		p.need("}")
	default:
		p.bad = true
	}
}

// next goes past what comes next, if it is that.
func (p *plainText) next(what string) (ok bool) {
	p.rest, ok = strings.CutPrefix(p.rest, what)
	return ok
}

func (p *plainText) need(what string) { p.bad = !p.next(what) || p.bad }

func (p *plainText) text() string {
	p.need(`"`)
	text, rest, ok := strings.Cut(p.rest, `"`)
	p.rest, p.bad = rest, p.bad || !ok
	return text
}

// number reads up to nine digits.
func (p *plainText) number() (n int64) {
	i := 0
	for ; i < len(p.rest) && i < 9 && '0' <= p.rest[i] && p.rest[i] <= '9'; i++ {
		n = n*10 + int64(p.rest[i]-'0')
	}
	p.bad = p.bad || i == 0 || i > 1 && p.rest[0] == '0'
	p.rest = p.rest[i:]
	return n
}
