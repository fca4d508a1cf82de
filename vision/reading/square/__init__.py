"""The reference square: coded or plain, seen anywhere or where a first look says."""
