"""The screens. They show the store and ask the operator; they decide nothing and open no port."""
