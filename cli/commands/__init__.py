"""The commands that plan, print and list: arguments, options, what is said on the screen."""
