"""The door for a group: takes ledgers over from many sites, checks them, answers for all."""
