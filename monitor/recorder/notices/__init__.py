"""An alarm in, a message to a phone or a desk out; and the truth about whether it got there."""
