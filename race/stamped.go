package race

import "reflect"

// Stamped returns a copy of an event with another wall time.
func Stamped(e Event, w Wall) Event {
	v := reflect.New(reflect.TypeOf(e)).Elem()
	v.Set(reflect.ValueOf(e))
	v.FieldByName("Stamp").Set(reflect.ValueOf(Stamp{w}))
	return v.Interface().(Event)
}
